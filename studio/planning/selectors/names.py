"""What is each ware and line called on a plan: as short as it can be and still be one thing?"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

from studio.planning.selectors.stock import ware_key
from studio.wares.models import ClayLot, Form, Line


def shortest(choices: dict[str, Sequence[str]]) -> dict[str, str]:
    """For each key the first of its names, from short to long, that no other key's name equals."""
    names = {key: options[0] for key, options in choices.items()}
    for level in range(1, max((len(options) for options in choices.values()), default=0)):
        twice = {name for name, count in Counter(names.values()).items() if count > 1}
        for key, options in choices.items():
            if names[key] in twice and level < len(options):
                names[key] = options[level]
    return names


def ware_names(pairs: Iterable[tuple[Form, ClayLot]]) -> dict[str, str]:
    """'Mug', or 'Mug (Speckled)' beside another body, or 'Mug (lot 26-1)' beside another lot."""
    return shortest(
        {
            ware_key(form.pk, clay_lot.pk): (
                form.name,
                f"{form.name} ({clay_lot.body})",
                f"{form.name} (lot {clay_lot.lot})",
                f"{form.name} ({clay_lot})",
            )
            for form, clay_lot in pairs
        }
    )


def line_names(lines: Iterable[Line]) -> dict[str, str]:
    """'Mug in Sky', with body, lot and schedule only where another line is called the same."""
    return shortest(
        {
            str(line.pk): (
                f"{line.form} in {line.coats}",
                f"{line.form} in {line.coats} on {line.clay_lot.body}",
                f"{line.form} in {line.coats} (lot {line.clay_lot.lot})",
                f"{line.form} in {line.coats} on {line.clay_lot}",
                f"{line.form} in {line.coats} on {line.clay_lot} ({line.schedule})",
            )
            for line in lines
        }
    )
