"""Is what stands in the studio shared out once, the soonest date first?"""

from __future__ import annotations

from datetime import timedelta

from studio.planning.selectors.standing import stand_rows
from studio.sales.models import Listing
from tests.planning.cast import NOW, TODAY, Cast

DAY = timedelta(days=1)


def test_pots_are_shared_out_by_date_and_stage(cast: Cast) -> None:
    fair = cast.sale("Fair", TODAY + 10 * DAY, {cast.mugs: 8})
    cast.sale("Winter sale", TODAY + 40 * DAY, {cast.mugs: 20, cast.bowls: 2})
    [listed, *_] = cast.board("L1", 1, stage="listed")
    Listing.objects.create(piece=listed, sale_day=fair, price_pence=3200, listed_at=NOW)
    cast.board("R1", 3, stage="graded")
    cast.board("F1", 2, stage="fired")
    cast.firing(cast.little, cast.gloss, state="firing", pieces=cast.board("G1", 4, stage="glazed"))
    cast.board("B1", 5, stage="bisqued")
    cast.board("T1", 6)
    rows = {(row.need, row.line): row for row in stand_rows(today_date=TODAY)}
    first = rows["Fair", "Mug in Sky"]
    second = rows["Winter sale", "Mug in Sky"]
    # 8 wanted: 1 listed, 3 graded, 2 fired, 2 of the 4 in the kiln.
    assert (first.promised, dict(first.stages), first.missing) == (
        1,
        {"graded": 3, "fired": 2, "glazed": 2, "bisqued": 0, "thrown": 0},
        0,
    )
    # 20 wanted: the other 2 glazed, 5 bisqued, 6 thrown; 20 - 13 = 7 nobody has thrown.
    assert (dict(second.stages), second.missing) == (
        {"graded": 0, "fired": 0, "glazed": 2, "bisqued": 5, "thrown": 6},
        7,
    )
    assert rows["Winter sale", "Bowl in Sky"].missing == 2


def test_nothing_wanted_is_nothing_standing(cast: Cast) -> None:
    cast.board("R1", 3, stage="graded")
    assert stand_rows(today_date=TODAY) == []
