"""Is every row of a file of readings kept or named, and is a changed clock seen?

The files are our own, written as loggers and spreadsheets write them; the expected readings stand
beside them. Degrees Fahrenheit by definition of the scales: 1112 °F = (1112 - 32) / 1.8 = 600 °C.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from studio.craft.firing_log import BadLogFile, ReadLog, gap_words, read_log
from studio.craft.log_times import settle, span_words
from studio.craft.thinning import thin, turning_points

LONDON = ZoneInfo("Europe/London")


def read(*lines: str, **asked: object) -> ReadLog:
    return read_log("\n".join(lines).encode(), **asked)  # type: ignore[arg-type]


def hours(log: ReadLog) -> list[float]:
    return [round(float(h), 4) for h in log.sensors[0].times_h]


def temps(log: ReadLog) -> list[float]:
    return [round(float(c), 2) for c in log.sensors[0].temps_c]


def accounted(log: ReadLog) -> None:
    """Law 1: what is not kept is named."""
    assert log.kept + len({one.row for one in log.named if not one.kept}) >= log.rows


@pytest.mark.parametrize(
    "lines",
    [
        ("time,temperature °C", "16:30,20", "17:30,80", "18:30,140"),
        ("Elapsed (h);Temp C", "0,0;20,0", "1,0;80,0", "2,0;140,0"),
        ("minutes\tThermocouple", "0\t20", "60\t80", "120\t140"),
        ("s,°C", "0,20", "3600,80", "7200,140"),
        ("Date,Time,Kiln (°F)", "11/20/2026,4:30 PM,68", "11/20/2026,5:30 PM,176",
         "11/20/2026,6:30 PM,284"),
        ("timestamp,set point,actual", "2026-11-20T16:30:00Z,900,20", "2026-11-20T17:30:00Z,900,80",
         "2026-11-20T18:30:00Z,900,140"),
        ("Datum;Uhrzeit;Temperatur", "20.11.2026;16:30;20", "20.11.2026;17:30;80",
         "20.11.2026;18:30;140"),
        ("1795000000,20", "1795003600,80", "1795007200,140"),
        ("0,20", "1,80", "2,140"),
        ("Kiln log of the shed", "", "Time;Power %;Temp °F", "00:00:00;50;68", "01:00:00;50;176",
         "02:00:00;50;284"),
        ("23:00,20", "00:00,80", "1:00,140"),
        ("time,temp", "0:00:00,20 °C", "1:00:00,176 F", "2:00:00,140 °C"),
        ("time,temp", "22:30,20", "23:30,80", "0:30,140"),
    ],
)  # fmt: skip
def test_three_readings_an_hour_apart(lines: tuple[str, ...]) -> None:
    log = read(*lines)
    assert hours(log) == [0, 1, 2]
    assert temps(log) == [20, 80, 140]
    assert (log.rows, log.kept, log.left_out) == (3, 3, 0)


def test_several_sensors_and_what_is_none() -> None:
    log = read(
        "time (min),Top °C,Bottom °C,Set point °C,Power %,Segment",
        "0,20,19,20,10,1", "10,30,,31,11,1", "20,40,38,42,12,1",
    )  # fmt: skip
    assert [one.name for one in log.sensors] == ["Top °C", "Bottom °C"]
    assert log.sensors[1].temps_c.tolist() == [19, 38]
    assert [(one.row, one.reason) for one in log.named] == [(3, "Bottom °C: no temperature")]
    assert log.kept == 3
    assert log.sensor("bottom °c").name == "Bottom °C"
    with pytest.raises(BadLogFile, match=r"no sensor “Middle”\. It has “Top °C”, “Bottom °C”"):
        log.sensor("Middle")


def test_every_bad_row_is_named_with_its_number_and_reason() -> None:
    log = read(
        "time (min),temp °C",
        "0,20", "soon,30", "10,ERR", ",40", "15,", "", "20,9999", "25,60", "30,70", "35,400",
        "40,80", "45,-80", "50,90",
    )  # fmt: skip
    assert [(one.row, one.reason) for one in log.named] == [
        (3, "“soon” is no time"),
        (4, "temp °C: “ERR” is no temperature"),
        (5, "no time"),
        (6, "temp °C: no temperature"),
        (7, "an empty row"),
        (8, "temp °C: 9999 °C is no temperature of a kiln"),
        (11, "temp °C: 400 °C leaps away and back"),
        (13, "temp °C: -80 °C is no temperature of a kiln"),
    ]
    assert temps(log) == [20, 60, 70, 80, 90]
    assert (log.rows, log.kept) == (13, 5)
    accounted(log)


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "The file is empty."),
        (b"\n \n", "The file is empty."),
        (b"hello\nthere\n", "No row of the file holds a time and a temperature."),
        (b"PK\x03\x04\x00\x00\x00", "The file is no text."),
        (b"time,temp\n" + b"0,20\n" * 2000 + b"1,3\x0000\n", "The file is no text."),
        ("time,te\x00mp\n0,20\n1,30\n".encode("utf-16"), "The file is no text."),
        (b"time,temp\n0,20\n", "Of 1 rows, 1 hold a time and a temperature"),
        (b"time,temp\n0,20\nsoon,30\n", "Row 3: “soon” is no time."),
        (b"time h,temp C\n0,20\n500,30\n", "The readings span 500 hours, more than 400."),
        (b"time,power %\n0,20\n1,30\n", "No column of the file holds temperatures."),
        (b"x" * 20_000_001, "The file is 20 MB; at most 20 MB are read."),
    ],
)
def test_a_file_that_is_none(data: bytes, says: str) -> None:
    with pytest.raises(BadLogFile) as caught:
        read_log(data)
    assert says in str(caught.value)


def test_units_by_word_by_wish_and_by_size() -> None:
    assert temps(read("h,temp", "0,68", "1,2232", "2,2232"))[1] == pytest.approx(1222.22)
    assert "guessed" in read("h,temp", "0,20", "1,900").taken_as[1]
    # 1112 °F is 600 °C; read as °C it would be a bisque, so a wish can be said.
    assert temps(read("h,temp", "0,68", "1,1112", unit="F")) == [20, 600]
    assert temps(read("h,temp °C", "0,68", "1,1112", unit="F")) == [68, 1112]
    assert temps(read("h,temp", '0,"1,112.5"', "1,20"))[0] == 1112.5


def test_which_number_is_the_month() -> None:
    late = read("when,temp", "25/11/2026 10:00,20", "25/11/2026 11:00,30")
    assert late.started_at == datetime(2026, 11, 25, 10)  # noqa: DTZ001
    early = read("when,temp", "11/25/2026 10:00,20", "11/25/2026 11:00,30")
    assert early.started_at == late.started_at
    over = read("when,temp", "03/04/2026 23:00,20", "04/04/2026 01:00,30")
    assert "day before month" in over.taken_as[0]
    assert hours(over) == [0, 2]
    turned = read("when,temp", "04/03/2026 23:00,20", "04/04/2026 01:00,30")
    assert "month before day" in turned.taken_as[0]
    assert hours(turned) == [0, 2]


def every_minute(count: int, start: datetime) -> list[datetime]:
    return [start + timedelta(minutes=i) for i in range(count)]


def test_the_hour_that_comes_twice_when_summer_time_ends() -> None:
    # Europe/London, 25 October 2026, 02:00 BST becomes 01:00 GMT.
    start = datetime(2026, 10, 25, 0, 0, tzinfo=ZoneInfo("UTC"))
    stamps = [moment.astimezone(LONDON) for moment in every_minute(240, start)]
    log = read("time,temp", *(f"{m:%Y-%m-%d %H:%M},{500 + i}" for i, m in enumerate(stamps)))
    assert hours(log)[-1] == pytest.approx(239 / 60, abs=1e-3)
    assert temps(log) == [500 + i for i in range(240)]
    [named] = log.named
    # 01:59 is followed by 01:00 in the 60th row of readings, the 62nd of the file.
    assert (named.row, named.kept) == (62, True)
    assert named.reason == "the clock was set back 59 min: read on"


def test_the_hour_that_is_missing_when_summer_time_begins() -> None:
    # Europe/London, 29 March 2026, 01:00 GMT becomes 02:00 BST.
    start = datetime(2026, 3, 29, 0, 0, tzinfo=ZoneInfo("UTC"))
    stamps = [moment.astimezone(LONDON) for moment in every_minute(120, start)]
    lines = ["time,temp", *(f"{m:%Y-%m-%d %H:%M},{500 + i}" for i, m in enumerate(stamps))]
    told = read(*lines, zone=LONDON)
    assert hours(told)[-1] == pytest.approx(119 / 60, abs=1e-3)
    assert "summer time began: the clock went forward 1 h" in told.named[0].reason
    assert not told.gaps
    # Without the zone nobody can know, and the hour stays a gap.
    assert len(read(*lines).gaps) == 1
    elsewhere = [line.replace("2026-03-29", "2026-03-30") for line in lines]
    assert len(read(*elsewhere, zone=LONDON).gaps) == 1


def test_a_clock_that_was_reset() -> None:
    rows = [f"2026-11-20 10:{i:02},{800 + i}" for i in range(30)]
    back = [f"2000-01-01 00:{i:02},{830 + i}" for i in range(30)]
    log = read("time,temp", *rows, *back)
    assert temps(log) == [800 + i for i in range(60)]
    assert hours(log)[-1] == pytest.approx(59 / 60, abs=1e-3)
    assert "the clock was set back" in log.named[0].reason
    forward = read("time,temp", *back, *[row.replace("800", "859") for row in rows])
    assert hours(forward)[-1] == pytest.approx(59 / 60, abs=1e-3)
    assert "the clock was set forward" in forward.named[0].reason


def test_a_gap_stays_a_gap() -> None:
    log = read("time,temp", *(f"10:{i:02},{600 - i}" for i in range(30)), "15:00,300", "15:01,299")
    [gap] = log.gaps
    assert (gap.row, round(gap.hours, 3)) == (32, round(271 / 60, 3))
    assert gap_words(gap) == "no reading for 4 h 31 min from 0.5 h on"
    assert not log.named


def test_rows_out_of_order_are_put_into_their_place() -> None:
    minutes = [0, 1, 2, 4, 3, 5, 6, 7, 8, 9]
    log = read("min,temp", *(f"{m},{20 + m}" for m in minutes))
    assert temps(log) == [20 + m for m in range(10)]
    assert [(one.row, one.kept) for one in log.named] == [(6, True)]
    assert "out of order" in log.named[0].reason
    turned = read("min,temp", *(f"{m},{20 + m}" for m in reversed(range(10))))
    assert temps(turned) == [20 + m for m in range(10)]
    assert "newest reading stood first" in turned.named[0].reason


def test_a_date_from_nowhere_is_left_out() -> None:
    stamps = [f"2026-11-20 10:{i:02}" for i in range(20)]
    stamps[7] = "2062-11-20 10:07"
    log = read("time,temp", *(f"{stamp},{100 + i}" for i, stamp in enumerate(stamps)))
    assert [(one.row, one.reason) for one in log.named] == [
        (9, "its time is far from the rows around it")
    ]
    assert log.kept == 19
    accounted(log)


def test_readings_of_one_minute_are_spread_over_it() -> None:
    log = read("time,temp", "10:00,20", "10:00,21", "10:00,22", "10:01,23", "10:01,24", "10:02,25")
    assert hours(log) == [round(m / 60, 4) for m in (0, 1 / 3, 2 / 3, 1, 1.5, 2)]


@settings(deadline=None, max_examples=60)
@given(
    st.lists(
        st.one_of(
            st.tuples(st.integers(0, 3000), st.floats(-40, 1390)).map(lambda r: f"{r[0]},{r[1]}"),
            st.sampled_from(
                [
                    "",
                    ",",
                    "x,y",
                    "5,ERR",
                    "later,20",
                    "3,99999",
                    ",,,,",
                    '"',
                    "4,nan",
                    "inf,20",
                    "1e400,9",
                ]
            ),
        ),
        min_size=2,
        max_size=60,
    )
)
def test_any_rows_are_kept_or_named(lines: list[str]) -> None:
    try:
        log = read("minutes,temp °C", "0,20", "1,21", *lines)
    except BadLogFile:
        return
    accounted(log)
    for sensor in log.sensors:
        assert (np.diff(sensor.times_h) > 0).all()
        assert np.isfinite(sensor.temps_c).all()


def test_shuffled_rows_are_sorted_and_said() -> None:
    rng = np.random.default_rng(5)
    seconds = rng.permutation(1000).astype(float)
    settled = settle(seconds, np.full(1000, 20.0))
    assert settled.seconds.tolist() == list(range(1000))
    assert "no order" in settled.named[0][1]


def test_a_span_in_words() -> None:
    said = [span_words(s) for s in (40, 300, 3600, 5400, 200_000)]
    assert said == ["40 s", "5 min", "1 h", "1 h 30 min", "2 days"]


def test_thinning_keeps_the_turns_and_tells_its_error() -> None:
    times = np.linspace(0, 30, 20_000)
    wave = np.interp(times, [0, 8, 12, 12.5, 30], [20, 900, 1222, 1222, 60])
    temps_c = wave + np.random.default_rng(2).normal(0, 0.3, len(times))
    thinned = thin(times, temps_c)
    assert len(thinned.kept) < 2000
    line = np.interp(times, times[thinned.kept], temps_c[thinned.kept])
    assert np.abs(line - temps_c).max() == pytest.approx(thinned.error_c)
    assert thinned.error_c <= 2
    for must in (0, len(times) - 1, int(temps_c.argmax())):
        assert must in thinned.kept


def test_turns_are_kept_also_in_a_restless_log() -> None:
    times = np.arange(0.0, 10_000) / 60
    restless = 500 + 40 * np.sin(np.arange(10_000) * 2.1)
    thinned = thin(times, restless, most=500)
    assert len(thinned.kept) <= 500
    line = np.interp(times, times[thinned.kept], restless[thinned.kept])
    assert np.abs(line - restless).max() == pytest.approx(thinned.error_c)
    assert turning_points(np.array([20.0, 100, 90, 110, 60, 200])) == [0, 1, 2, 3, 4, 5]
    assert turning_points(np.array([20.0, 100, 97, 110, 60])) == [0, 3, 4]


@settings(deadline=None, max_examples=50)
@given(st.lists(st.floats(0, 1400), min_size=2, max_size=80))
def test_no_reading_is_farther_from_the_line_than_said(values: list[float]) -> None:
    temps_c = np.array(values)
    times = np.arange(len(values), dtype=float)
    thinned = thin(times, temps_c)
    line = np.interp(times, times[thinned.kept], temps_c[thinned.kept])
    assert np.abs(line - temps_c).max() == pytest.approx(thinned.error_c, abs=1e-9)
    assert thinned.error_c <= 1 + 1e-9


def test_a_word_for_a_loose_wire_is_named_and_a_count_is_no_clock() -> None:
    log = read("min,temp °C", "0,20", "1,nan", "2,30")
    assert [(one.row, one.reason) for one in log.named] == [(3, "temp °C: “nan” is no temperature")]
    assert read("n,°C", "1000000000000000000,20", "1000000000003600000,30").started_at is None
