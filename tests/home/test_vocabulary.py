"""Is the vocabulary of DEVELOPERS.md the vocabulary of the code?"""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from django.apps import apps

TABLE = Path(__file__).parents[2] / "DEVELOPERS.md"
ROW = re.compile(r"^\| (?P<word>[a-z ]+) \| `(?P<room>\w+)\.(?P<name>\w+)(?:\.(?P<inner>\w+))?` \|")


def rows() -> list[re.Match[str]]:
    """Answer the rows of the vocabulary table."""
    return [m for line in TABLE.read_text(encoding="utf-8").splitlines() if (m := ROW.match(line))]


def test_the_table_is_there() -> None:
    assert len(rows()) > 25


@pytest.mark.parametrize("row", rows(), ids=lambda row: row["word"])
def test_each_word_names_something_in_its_room(row: re.Match[str]) -> None:
    models = apps.get_app_config(row["room"]).models_module
    named = getattr(models, row["name"])
    if row["inner"]:
        named = getattr(named, row["inner"])
    assert named.__doc__


def test_every_model_with_a_life_of_its_own_is_in_the_table() -> None:
    parts_of_others = {
        "Coat", "Photo", "Segment", "PlannedWare", "ShipmentWant", "ParcelPiece",
        "TurnRule", "PlanRule", "TrialRule", "ProofRule", "PlannedFiring", "CareRule",
        "ElementLife", "Studio", "FormKey",
    }  # fmt: skip
    ours = {
        (model._meta.app_label, model.__name__)
        for model in apps.get_models()
        if model.__module__.startswith("studio.")
        and model.__name__ not in parts_of_others
        and not model._meta.auto_created
    }
    in_table = {(row["room"], row["name"]) for row in rows()}
    assert ours <= in_table
