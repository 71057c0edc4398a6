"""Does ``manage.py cone`` say the chart's cone for a file, and why a file says none?"""

from __future__ import annotations

import json
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command


def run(path: Path, *options: str) -> str:
    out = StringIO()
    call_command("cone", str(path), *options, stdout=out)
    return out.getvalue()


@pytest.fixture
def log(tmp_path: Path) -> Path:
    """60 °C/h to 1222 °C: cone 6 by the chart (self-supporting, grade A); one row is no reading."""
    minutes = [0, 600, 1202]
    rows = [f"{m},{20 + m},{10 + m}" for m in minutes]
    path = tmp_path / "kiln.csv"
    path.write_text("\n".join(["min,Top °C,Bottom °C", *rows[:2], "700,ERR,", rows[2]]), "utf-8")
    return path


def test_the_cone_in_words(log: Path) -> None:
    said = run(log)
    assert "At the end of heating: cone 6\n" in said
    assert "Highest: 1222 °C after 20.0 h" in said
    assert "Top °C: 3 of 4 rows hold a reading; times taken as minutes" in said
    assert "Row 4: Top °C: “ERR” is no temperature" in said
    assert "Meant to 0.5 cone either way" in said


def test_the_cone_as_json(log: Path) -> None:
    found = json.loads(run(log, "--json"))
    assert found["at_peak"]["cone"] == "6"
    assert found["at_peak"]["part"] == pytest.approx(0, abs=1e-6)
    assert (found["rows"], found["kept"], len(found["named"])) == (4, 3, 2)
    assert found["sensors"] == ["Top °C", "Bottom °C"]
    assert found["peak_c"] == 1222


def test_a_sensor_an_offset_and_a_unit(log: Path, tmp_path: Path) -> None:
    low = json.loads(run(log, "--json", "--sensor", "bottom °C"))
    assert low["at_peak"]["cone"] == "5"
    put_right = json.loads(run(log, "--json", "--sensor", "Bottom °C", "--offset", "10"))
    assert put_right["at_peak"]["cone"] == "6"
    plain = tmp_path / "plain.csv"
    # 1112 °F is 600 °C: without a unit it would be taken as °C, a bisque.
    plain.write_text("0,68\n9,1112\n", "utf-8")
    assert json.loads(run(plain, "--json", "--unit", "F"))["peak_c"] == 600
    assert "Highest: 1112 °F" in run(plain, "--unit", "F")


def test_what_cannot_be_read(tmp_path: Path, log: Path) -> None:
    with pytest.raises(CommandError, match="cannot be read: No such file"):
        run(tmp_path / "nowhere.csv")
    empty = tmp_path / "empty.csv"
    empty.write_bytes(b"")
    with pytest.raises(CommandError, match="The file is empty"):
        run(empty)
    with pytest.raises(CommandError, match="has no sensor “Lid”"):
        run(log, "--sensor", "Lid")
    with pytest.raises(CommandError, match="An offset is -100 to 100"):
        run(log, "--offset", "500")
    with pytest.raises(CommandError, match="invalid choice: 'K'"):
        run(log, "--unit", "K")
