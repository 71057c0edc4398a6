"""Where does a sent file wait while a person matches its columns and looks at what will change?

In a folder beside the database, under a name nobody can guess, readable by its sender alone. It is
taken away when it was taken in, and after ``KEPT`` at the latest; a backup does not hold it.
"""

from __future__ import annotations

import re
import secrets
import time
from contextlib import suppress
from datetime import timedelta
from pathlib import Path

from django.conf import settings

from studio.drawing.photos import store

KEPT = timedelta(hours=24)
_TOKEN = re.compile(r"[0-9a-f]{32}")


def keep(*, data: bytes, by_id: int) -> str:
    """Keep a file for its sender; the name it is asked for by. Takes old ones away."""
    folder = _folder()
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    prune()
    token = secrets.token_hex(16)
    store(data, _path(token, by_id))
    return token


def kept(*, token: str, by_id: int) -> bytes | None:
    """What was kept under this name by this sender; None when it is not there any more."""
    if _TOKEN.fullmatch(token) is None:
        return None
    path = _path(token, by_id)
    try:
        return None if _is_old(path) else path.read_bytes()
    except FileNotFoundError:
        return None


def keep_beside(*, token: str, by_id: int, data: bytes) -> None:
    """Keep what was found in a file so far beside it, in place of what was kept before."""
    if _TOKEN.fullmatch(token) is not None:
        store(data, _beside(token, by_id))


def kept_beside(*, token: str, by_id: int) -> bytes | None:
    """What was found in a file so far; None when nothing is kept."""
    if _TOKEN.fullmatch(token) is None:
        return None
    try:
        return _beside(token, by_id).read_bytes()
    except FileNotFoundError:
        return None


def forget_beside(*, token: str, by_id: int) -> None:
    """Take away what was found in a file so far, to be looked at anew."""
    if _TOKEN.fullmatch(token) is not None:
        _beside(token, by_id).unlink(missing_ok=True)


def forget(*, token: str, by_id: int) -> None:
    """Take a kept file away, and what was found in it."""
    forget_beside(token=token, by_id=by_id)
    if _TOKEN.fullmatch(token) is not None:
        _path(token, by_id).unlink(missing_ok=True)


def forget_all() -> None:
    """Take every kept file away: one of them may name somebody who is to be forgotten."""
    if _folder().is_dir():
        for path in _folder().iterdir():
            path.unlink(missing_ok=True)


def prune() -> None:
    """Take every file away that was kept long enough."""
    for path in _folder().iterdir() if _folder().is_dir() else ():
        with suppress(FileNotFoundError):  # somebody else took it away at this moment
            if path.is_file() and _is_old(path):
                path.unlink()


def _is_old(path: Path) -> bool:
    return path.stat().st_mtime < time.time() - KEPT.total_seconds()


def _folder() -> Path:
    return Path(settings.SENT_ROOT)


def _path(token: str, by_id: int) -> Path:
    return _folder() / f"{by_id}-{token}"


def _beside(token: str, by_id: int) -> Path:
    return _folder() / f"{by_id}-{token}.look"
