"""How long do 100,000 supporters take to be looked at, taken in, and written out, in how much room?

python -m tests.bench.roll [ROWS]

Every person is invented by number; a database of its own in a scratch folder is made and thrown
away. The peak is of the whole process, as the operating system counts it.
"""

from __future__ import annotations

import os
import resource
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path


def file_of(rows: int) -> bytes:
    """A file of supporters with its own headers."""
    head = "Name,E-mail,Tier,Country,Street,Town,Postcode,Joined,Paid months"
    lines = [
        f'Person {n},p{n}@example.org,Cup,GB,"{n % 300 + 1} Row {n}, Yard",Leeds,'
        f"LS{n % 28 + 1} {n % 9 + 1}DY,20{n % 6 + 20}-0{n % 9 + 1},2026-01..2026-06"
        for n in range(rows)
    ]
    return "\n".join([head, *lines]).encode()


def main() -> None:
    """Print a table: the step, seconds, and the peak so far."""
    rows = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    with tempfile.TemporaryDirectory() as folder:
        os.environ["DATABASE_URL"] = f"sqlite:///{folder}/roll.sqlite3"
        os.environ["WAREBOARD_DATA"] = folder
        os.environ.setdefault("DJANGO_SETTINGS_MODULE", "studio.settings")
        import django

        django.setup()
        _measure(rows, Path(folder))


def _measure(rows: int, folder: Path) -> None:
    from django.contrib.auth.models import User
    from django.core.management import call_command
    from django.utils import timezone

    from studio.parcels import roll, roll_columns, rules, selectors, services
    from studio.parcels.models import Payment, Supporter, Tier
    from studio.parcels.roll_row import Known

    call_command("migrate", verbosity=0)
    by = User.objects.create_user("bench")
    Tier.objects.create(name="Cup", monthly_pence=500)
    this_month = rules.month_of(timezone.localdate())
    known = Known.of(**selectors.known_names(), this_month=this_month)
    data = file_of(rows)
    print(f"{rows} rows, {len(data) / 1e6:.1f} MB")
    print(f"{'step':<34}{'s':>8}{'peak MB':>10}")

    def step(name: str, act: Callable[[], object]) -> None:
        start = time.perf_counter()
        act()
        seconds = time.perf_counter() - start
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(f"{name:<34}{seconds:>8.1f}{peak:>10.0f}")

    sheet = roll.open_sheet(data)
    matching = roll.Matching(fields=roll_columns.guess(sheet=sheet, known=known))
    at = timezone.now()

    def steps() -> object:
        return services.steps(roll.read_rows(sheet=sheet, matching=matching, known=known))

    def look() -> None:
        for some in steps():  # type: ignore[attr-defined]
            assert not services.prepare_import(rows=some, at=at).refused

    longest = 0.0

    def take_in() -> None:
        nonlocal longest
        for some in steps():  # type: ignore[attr-defined]
            ready = services.prepare_import(rows=some, at=at)
            start = time.perf_counter()
            services.import_supporters(rows=some, ready=ready, by=by, at=at)
            longest = max(longest, time.perf_counter() - start)

    step("the program, nothing read", lambda: None)
    step("read alone", lambda: sum(1 for _ in sheet.rows()))
    step("look at what will change", look)
    step("take in", take_in)
    print(f"{'  longest step with the pen held':<34}{longest:>8.2f}")
    step("take in again, nothing new", take_in)
    step("write out", lambda: sum(len(line) for line in selectors.as_roll()))
    assert Supporter.objects.count() == rows
    assert Payment.objects.count() == 6 * rows


if __name__ == "__main__":
    main()
