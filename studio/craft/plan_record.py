"""How is a planning question or a plan written down, and read again without loss?

One shape for both ways: a value becomes an object of its fields, a date ``"2026-11-25"``, a tuple
a list. Reading is strict, so that a plan that was stored by another version is refused in words
and never half understood: a field too many, a field missing or a wrong type names its path.
"""

from __future__ import annotations

from dataclasses import fields, is_dataclass
from datetime import date
from enum import StrEnum
from typing import Any, TypeVar, get_args, get_origin, get_type_hints

from studio.craft.answer import Plan
from studio.craft.problem import BadProblem, Problem

VERSION = 1
T = TypeVar("T")


class BadRecord(ValueError):
    """What was stored cannot be read; ``where`` is the path to the first thing that is wrong."""

    def __init__(self, where: str, why: str) -> None:
        self.where = where
        super().__init__(f"{where}: {why}")


def problem_to_json(problem: Problem) -> dict[str, Any]:
    """The whole question as plain JSON values, with the version of this shape."""
    return {"version": VERSION, **_write(problem)}


def plan_to_json(plan: Plan) -> dict[str, Any]:
    """The whole answer as plain JSON values, with the version of this shape."""
    return {"version": VERSION, **_write(plan)}


def problem_from_json(record: Any) -> Problem:
    """Read a question again. Raises ``BadRecord``."""
    return _read_whole(Problem, record, "problem")


def plan_from_json(record: Any) -> Plan:
    """Read an answer again. Raises ``BadRecord``."""
    return _read_whole(Plan, record, "plan")


def _write(value: Any) -> Any:
    if is_dataclass(value) and not isinstance(value, type):
        return {field.name: _write(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, tuple):
        return [_write(item) for item in value]
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, StrEnum):
        return value.value
    return value


def _read_whole(kind: type[T], record: Any, where: str) -> T:
    if not isinstance(record, dict):
        raise BadRecord(where, "is not an object")
    if record.get("version") != VERSION:
        raise BadRecord(where, f"is of version {record.get('version')!r}, not {VERSION}")
    read: T = _read(kind, {k: v for k, v in record.items() if k != "version"}, where)
    return read


def _read(kind: Any, value: Any, where: str) -> Any:
    if get_origin(kind) is tuple:
        return _read_tuple(get_args(kind), value, where)
    if is_dataclass(kind):
        return _read_fields(kind, value, where)
    if kind is date:
        return _read_by(date.fromisoformat, value, where)
    if isinstance(kind, type) and issubclass(kind, StrEnum):
        return _read_by(kind, value, where)
    if kind is float and type(value) is int:
        return float(value)
    if type(value) is not kind:
        raise BadRecord(where, f"is {type(value).__name__}, not {kind.__name__}")
    return value


def _read_by(reader: Any, value: Any, where: str) -> Any:
    if not isinstance(value, str):
        raise BadRecord(where, f"is {type(value).__name__}, not text")
    try:
        return reader(value)
    except ValueError as error:
        raise BadRecord(where, str(error)) from error


def _read_tuple(kinds: tuple[Any, ...], value: Any, where: str) -> tuple[Any, ...]:
    if not isinstance(value, list):
        raise BadRecord(where, "is not a list")
    if len(kinds) == 2 and kinds[1] is Ellipsis:
        return tuple(_read(kinds[0], item, f"{where}[{i}]") for i, item in enumerate(value))
    if len(value) != len(kinds):
        raise BadRecord(where, f"has {len(value)} parts, not {len(kinds)}")
    pairs = zip(kinds, value, strict=True)
    return tuple(_read(kind, item, f"{where}[{i}]") for i, (kind, item) in enumerate(pairs))


def _read_fields(kind: Any, value: Any, where: str) -> Any:
    if not isinstance(value, dict):
        raise BadRecord(where, "is not an object")
    hints = get_type_hints(kind)
    known = [field.name for field in fields(kind)]
    for name in value:
        if name not in known:
            raise BadRecord(f"{where}.{name}", "is not known here")
    for name in known:
        if name not in value:
            raise BadRecord(f"{where}.{name}", "is missing")
    found = {name: _read(hints[name], value[name], f"{where}.{name}") for name in known}
    try:
        return kind(**found)
    except BadProblem as error:
        raise BadRecord(where, str(error)) from error
