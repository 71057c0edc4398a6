"""Do pauses, lost payments, households and glazes go in by a file, and back, and out the same?"""

from __future__ import annotations

from typing import Any

import pytest
from django.contrib.auth.models import User
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from studio.parcels import roll, roll_columns, rules, selectors, services
from studio.parcels.models import Supporter
from studio.parcels.roll import BadRoll, Matching, open_sheet, read_roll, read_rows
from studio.parcels.roll_row import Known, guard, unguard
from studio.parcels.rules import BadMonth, read_spans, write_spans
from studio.wares.models import Glaze
from tests.parcels import cast
from tests.parcels.cast import NOVEMBER, NOW

HEAD = "number,name,email,tier,country,street_address,city,postal_code"
ADA = "1,Ada Lind,ada@example.org,Saucer,Germany,Weg 1,Kiel,24103"
KNOWN = Known.of(tiers=["Saucer"], forms=["Mug"], glazes=["Ash"], this_month=NOVEMBER)


def take_in(text: str, by: User) -> services.Imported:
    cast.tier()
    cast.tier("Bowl", 3)
    rows = read_roll(
        text.encode(), tiers=["Saucer", "Bowl"], forms=["Mug"], glazes=["Ash"], this_month=NOVEMBER
    )
    return services.import_supporters(rows=rows, by=by, at=NOW)


def causes(text: str) -> tuple[str, ...]:
    with pytest.raises(BadRoll) as refused:
        read_roll(text.encode(), tiers=["Saucer"], forms=[], glazes=["Ash"], this_month=NOVEMBER)
    return refused.value.causes


def ada() -> Supporter:
    return Supporter.objects.get(number=1)


@pytest.mark.django_db
def test_a_pause_goes_in_as_yes_no_or_months(potter: User) -> None:
    head = f"{HEAD},joined_month,paused"
    take_in(f"{head}\n{ADA},2026-01,yes\n", potter)
    assert selectors.pauses(ada()) == [(NOVEMBER, None)]
    assert take_in(f"{head}\n{ADA},2026-01,yes\n", potter).change is None
    ended = take_in(f"{head}\n{ADA},2026-01,no\n", potter)
    assert selectors.pauses(ada()) == []
    assert ended.change is not None
    services.undo(change=ended.change, by=potter, at=NOW)
    assert selectors.pauses(ada()) == [(NOVEMBER, None)]
    take_in(f'{head}\n{ADA},2026-01,"2026-02..2026-03, 2026-10.."\n', potter)
    spans = [(NOVEMBER - 9, NOVEMBER - 8), (NOVEMBER - 1, None)]
    assert selectors.pauses(ada()) == spans
    take_in(f"{head}\n{ADA},2026-01,\n", potter)  # what is past stays past
    assert selectors.pauses(ada()) == [spans[0], (NOVEMBER - 1, NOVEMBER - 1)]
    with pytest.raises(BadRoll, match="Row 2: Ada Lind joined in January 2026, so December 2025"):
        take_in(f"{head}\n{ADA},2026-01,2025-12\n", potter)
    assert (
        "runs into the one from March 2026"
        in causes(f'{head}\n{ADA},2026-01,"2026-02.., 2026-03"\n')[0]
    )


@pytest.mark.django_db
def test_lost_payments_go_in_and_an_older_list_does_not_bring_them_back(potter: User) -> None:
    head = f"{HEAD},joined_month,paid_months,refunded_months,failed_months"
    first = take_in(f"{head}\n{ADA},2026-01,2026-08..2026-10,2026-07,2026-11\n", potter)
    assert selectors.months_of(ada()) == {
        "paid": [NOVEMBER - 3, NOVEMBER - 2, NOVEMBER - 1],
        "refunded": [NOVEMBER - 4],
        "failed": [NOVEMBER],
    }
    old = f"{HEAD},paid_months\n{ADA},2026-07..2026-10\n"
    assert take_in(old, potter).change is None  # July was given back, whatever an old list says
    newer = take_in(f"{HEAD},paid_months,failed_months\n{ADA},2026-11,\n", potter)
    assert selectors.months_of(ada())["failed"] == []
    assert newer.change is not None
    services.undo(change=newer.change, by=potter, at=NOW)
    assert selectors.months_of(ada())["failed"] == [NOVEMBER]
    assert first.change is not None
    services.undo(change=first.change, by=potter, at=NOW)
    assert not Supporter.objects.exists()
    assert causes(f"{HEAD},paid_months,failed_months\n{ADA},2026-11,2026-11\n") == (
        "Row 2, paid months: November 2026 is paid and failed. Leave one of the two.",
    )


@pytest.mark.django_db
def test_who_is_new_joined_in_the_first_month_the_row_tells_of(potter: User) -> None:
    take_in(f"{HEAD},paid_months,failed_months\n{ADA},2026-03..2026-05,2026-02\n", potter)
    assert ada().joined_month == NOVEMBER - 9
    take_in(f"{HEAD}\n{ADA.replace('1,Ada', '2,Bo').replace('ada@', 'bo@')}\n", potter)
    assert Supporter.objects.get(number=2).joined_month == NOVEMBER


@pytest.mark.django_db
def test_household_glazes_and_leaving_go_in(potter: User) -> None:
    Glaze.objects.create(name="Ash", mixed_date=NOW.date(), top_cone="6")
    head = f"{HEAD},joined_month,left_month,household,no_glazes"
    change = take_in(f"{head}\n{ADA},2026-01-31,2026-09-30 10:00,Weg 1,ash\n", potter).change
    assert (ada().joined_month, ada().left_month, ada().household) == (
        NOVEMBER - 10, NOVEMBER - 2, "Weg 1",
    )  # fmt: skip
    assert [glaze.name for glaze in ada().no_glazes.all()] == ["Ash"]
    again = take_in(f"{head}\n{ADA},2026-01,,,\n", potter)
    assert (ada().left_month, ada().household, ada().no_glazes.count()) == (None, "", 0)
    assert again.change is not None
    services.undo(change=again.change, by=potter, at=NOW)
    assert (ada().household, ada().no_glazes.count()) == ("Weg 1", 1)
    assert change is not None
    assert causes(f"{head}\n{ADA},2026-01,,,Ashh\n") == (
        "Row 2, rather no glazes: 'Ashh' is no glaze known here. Did you mean Ash?",
    )
    with pytest.raises(BadRoll, match="They joined in January 2026 and cannot have left before"):
        take_in(f"{head}\n{ADA},2026-01,2025-12,,\n", potter)


@pytest.mark.django_db
def test_another_tier_in_a_file_keeps_the_one_before(potter: User) -> None:
    take_in(f"{HEAD},joined_month\n{ADA},2026-01\n", potter)
    moved = take_in(f"{HEAD}\n{ADA.replace('Saucer', 'Bowl')}\n", potter)
    former = list(ada().former_tiers.values_list("to_month", "tier__name"))
    assert former == [(NOVEMBER - 1, "Saucer")]
    assert moved.change is not None
    services.undo(change=moved.change, by=potter, at=NOW)
    assert (ada().tier.name, ada().former_tiers.exists()) == ("Saucer", False)


def test_columns_are_guessed_by_header_then_by_content() -> None:
    text = (
        "Forename;SURNAME;E-Mail address;x;y;z;Address line 2;Member since;Months\r\n"
        "Zoë;Lind;zoe;z@example.org;Saucer;Deutschland;Hof;2026-01-02;2026-01, 2026-02\r\n"
        "Bo;Reed;bo;b@example.org;saucer;FR;;2026-02-02;2026-03..2026-04, 2026-06\r\n"
    )
    sheet = open_sheet(text.encode("cp1252"))
    assert roll_columns.guess(sheet=sheet, known=KNOWN) == (
        "name", "name", "email", "", "tier", "", "street_address", "joined_month", "paid_months",
    )  # fmt: skip
    # Countries are known by their English name or their code: half of these two are.
    one = open_sheet(b"a,b\nGB,x\nFR,y\n")
    assert roll_columns.guess(sheet=one, known=KNOWN) == ("country", "")


def test_a_matching_says_what_it_lacks() -> None:
    sheet = open_sheet(b"a,b,c\nAda,a@example.org,Weg 1\n")
    for fields, defaults, cause in (
        (("name", "email", ""), {}, "Row 1: the field 'tier' is missing."),
        (("name", "email", ""), {"tier": "Saucer"}, "Row 1: the field 'country' is missing."),
        (("name", "", ""), {"tier": "Saucer", "country": "DE"}, "needs the field 'number' or"),
        (("tier", "tier", "email"), {"country": "DE"}, "Row 1: the field 'tier' stands twice."),
    ):
        with pytest.raises(BadRoll) as refused:
            list(
                read_rows(
                    sheet=sheet, matching=Matching(fields=fields, defaults=defaults), known=KNOWN
                )
            )
        assert cause in str(refused.value)
    (row,) = read_rows(
        sheet=sheet,
        matching=Matching(
            fields=("name", "email", "street_address"), defaults={"tier": "Saucer", "country": "DE"}
        ),
        known=KNOWN,
    )
    assert row.causes == (
        "Row 2, city: Germany: the city is missing.",
        "Row 2, postal code: Germany: the postcode is missing.",
    )


def test_too_many_rows_and_columns(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(roll, "MOST_ROWS", 2)
    sheet = open_sheet(b"name\na\nb\nc\n")
    with pytest.raises(BadRoll, match="The file has more than 2 rows"):
        list(sheet.rows())
    with pytest.raises(BadRoll, match="more than 200 columns"):
        open_sheet(b"a," * 200 + b"a\n")
    with pytest.raises(BadRoll, match=r"no CSV file \(row 2"):
        list(open_sheet(b'name\n"Ada" Lind\n').rows())


@given(st.text(alphabet="'=+-@\tab", max_size=6))
def test_a_guarded_cell_comes_back(cell: str) -> None:
    assert unguard(guard(cell)) == cell
    assert not guard(cell).startswith(("=", "+", "-", "@", "\t"))


def test_months_of_pauses_are_read_and_written() -> None:
    text = "2026-01..2026-03, 2026-05, 2026-09.."
    assert write_spans(read_spans(text)) == text
    assert read_spans("") == ()
    for wrong in ("2026-03..2026-01", "2026-13", "2026-01..,2026-02", "2026-01..2026-02,2026-02"):
        with pytest.raises(BadMonth):
            read_spans(wrong)
    assert rules.span_words((NOVEMBER, NOVEMBER)) == "November 2026"
    assert rules.span_words((NOVEMBER, NOVEMBER + 1)) == "November 2026 to December 2026"


months = st.integers(NOVEMBER - 10, NOVEMBER)
people = st.fixed_dictionaries(
    {
        "name": st.sampled_from(["Ada", "=1+2", "'=x", "Zoë; Lind", 'B "Q"', "Ελένη", "山田"]),
        "packing_note": st.sampled_from(["", "@home", "no\ttape", "a,b;c"]),
        "household": st.sampled_from(["", "Row"]),
        "takes_seconds": st.booleans(),
        "paid": st.sets(months, max_size=4),
        "span": st.none() | st.tuples(months, st.none() | st.integers(0, 5)),
        "left": st.none() | months,
    }
)


@pytest.mark.django_db
@settings(
    max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(st.lists(people, min_size=1, max_size=4))
def test_what_is_written_out_changes_nothing_when_it_comes_back(
    potter: User, some: list[dict[str, Any]]
) -> None:
    Supporter.objects.all().delete()
    for number, one in enumerate(some, start=1):
        person = cast.supporter(
            one["name"], potter, paid=(), number=number, email=f"p{number}@example.org",
            joined_month=NOVEMBER - 10, packing_note=one["packing_note"].strip(),
            household=one["household"], takes_seconds=one["takes_seconds"],
            left_month=one["left"],
        )  # fmt: skip
        if one["paid"]:
            services.set_payments(
                supporter=person, states={"paid": sorted(one["paid"])}, by=potter, at=NOW
            )
        if one["span"]:
            first, more = one["span"]
            last = None if more is None else first + more
            services.pause(supporter=person, from_month=first, to_month=last, by=potter, at=NOW)
    before = list(Supporter.objects.order_by("id").values())
    written = "".join(selectors.as_roll())
    assert take_in(written, potter).change is None, written
    assert list(Supporter.objects.order_by("id").values()) == before
    Supporter.objects.all().delete()
    take_in(written, potter)
    assert "".join(selectors.as_roll()) == written
