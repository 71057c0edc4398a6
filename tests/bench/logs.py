"""How long does a log of a hundred thousand readings take to read and to thin? Nothing asserted.

python -m tests.bench.logs [rows]
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from datetime import datetime, timedelta

import numpy as np

from studio.craft.firing_log import read_log
from studio.craft.heat_work import cone_reached
from studio.craft.thinning import thin

START = datetime(2026, 11, 20, 16, 30)  # noqa: DTZ001  # a logger's own clock


def firing(rows: int) -> tuple[np.ndarray, np.ndarray]:
    """A cone 6 firing with its cooling, 40 hours, a thermocouple's noise of 0.4 °C."""
    times = np.linspace(0, 40, rows)
    temps = np.interp(times, [0, 3, 8, 12, 12.2, 40], [20, 120, 900, 1222, 1222, 60])
    return times, temps + np.random.default_rng(1).normal(0, 0.4, rows)


def _stamped(times: np.ndarray, temps: np.ndarray) -> Iterator[str]:
    yield "timestamp,temp °C,power %"
    for hours, c in zip(times.tolist(), temps.tolist(), strict=True):
        yield f"{START + timedelta(hours=hours):%Y-%m-%d %H:%M:%S},{c:.1f},50"


def _two_columns(times: np.ndarray, temps: np.ndarray) -> Iterator[str]:
    yield "Date,Time,Kiln °F,Shelf °F,Set point"
    for hours, c in zip(times.tolist(), temps.tolist(), strict=True):
        moment, f = START + timedelta(hours=hours), c * 1.8 + 32
        yield f"{moment:%m/%d/%Y},{moment:%I:%M:%S %p},{f:.1f},{f - 3:.1f},1000"


def _elapsed(times: np.ndarray, temps: np.ndarray) -> Iterator[str]:
    yield "minutes;temperature"
    for hours, c in zip(times.tolist(), temps.tolist(), strict=True):
        yield f"{hours * 60:.4f};{c:.1f}".replace(".", ",")


def _spoilt(times: np.ndarray, temps: np.ndarray) -> Iterator[str]:
    for row, line in enumerate(_stamped(times, temps)):
        yield line if row % 10 != 5 else line.split(",")[0] + ",ERR,"


WRITERS: dict[str, Callable[[np.ndarray, np.ndarray], Iterator[str]]] = {
    "date and clock": _stamped,
    "date, 12-hour clock, °F, two sensors": _two_columns,
    "minutes, decimal comma": _elapsed,
    "a tenth of the rows spoilt": _spoilt,
}


def main() -> None:
    rows = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    times, temps = firing(rows)
    print(f"{'file':38} {'MB':>5} {'read s':>7} {'thin s':>7} {'cone s':>7} {'kept':>7} points")
    for name, write in WRITERS.items():
        data = "\n".join(write(times, temps)).encode()
        began = time.perf_counter()
        sensor = (log := read_log(data)).sensors[0]
        read = time.perf_counter()
        thinned = thin(sensor.times_h, sensor.temps_c)
        thin_at = time.perf_counter()
        points = sensor.times_h[thinned.kept], sensor.temps_c[thinned.kept]
        cone_reached(times_h=points[0].tolist(), temps_c=points[1].tolist())
        done = time.perf_counter()
        print(
            f"{name:38} {len(data) / 1e6:5.1f} {read - began:7.2f} {thin_at - read:7.2f}"
            f" {done - thin_at:7.2f} {log.kept:7d} {len(thinned.kept)} within"
            f" {thinned.error_c:.1f} °C"
        )


if __name__ == "__main__":
    main()
