"""How long do a thousand packing slips take, and how much memory? Run by hand; nothing asserted.

python tests/bench/slips.py [count]
"""

from __future__ import annotations

import resource
import sys
import tempfile
import time
from pathlib import Path

from PIL import Image

from studio.drawing.slips import Slip, SlipPiece, slips_pdf

NAMES = ("Zoë Đặng", "Юрий Щербаков", "山田 花子", "محمد الأحمدي", "דוד כהן", "홍길동")


def memory_mb() -> float:
    """The most memory this process ever held [MB]."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    with tempfile.TemporaryDirectory() as folder:
        pictures = []
        for number in range(min(count, 200)):
            path = Path(folder) / f"{number}.jpg"
            tone = (number * 37 % 256, number * 91 % 256, 120)
            Image.effect_noise((1600, 1200), 60).convert("RGB").point(
                [(v + t) // 2 for t in tone for v in range(256)]
            ).save(path, quality=80)
            pictures.append(path)
        slips = [
            Slip(
                parcel_number=f"2026-11-{number:04}",
                studio_name="Lantern Yard Pots",
                studio_mark=None,
                studio_lines=("4 Lantern Yard",),
                ship_to=(NAMES[number % len(NAMES)], f"{number} Long Street", "TOWN"),
                ship_name=NAMES[number % len(NAMES)],
                pieces=(
                    SlipPiece(
                        number=f"M-{number}",
                        form="Mug",
                        line="Tide over Chalk",
                        facts="cone 6",
                        picture=pictures[number % len(pictures)],
                    ),
                ),
                care_note="Hand washing keeps it nicest.",
            )
            for number in range(count)
        ]
        before = memory_mb()
        started = time.perf_counter()
        data = slips_pdf(slips=slips, paper="A4")
        seconds = time.perf_counter() - started
    print(
        f"{count} slips: {seconds:.1f} s, {len(data) / 1e6:.1f} MB of PDF, "
        f"memory {before:.0f} -> {memory_mb():.0f} MB"
    )


if __name__ == "__main__":
    main()
