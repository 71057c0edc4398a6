"""Boards of pieces on their way: each step first as it works, then every refusal."""

import pytest

from tests import make

pytestmark = pytest.mark.django_db


def test_every_stage_can_be_made() -> None:
    for stage in ("thrown", "bisqued", "glazed", "fired", "graded", "listed"):
        pieces = make.pieces(stage, 3)
        assert [piece.stage for piece in pieces] == [stage] * 3
