"""Is a file of supporters taken whole or refused whole, with every wrong cell named?"""

from __future__ import annotations

import pytest
from django.contrib.auth.models import User
from django.db import connection
from django.test.utils import CaptureQueriesContext
from hypothesis import given, settings
from hypothesis import strategies as st

from studio.parcels import selectors, services
from studio.parcels.models import Payment, Supporter
from studio.parcels.roll import HEADERS, BadRoll, RollRow, read_roll
from studio.parcels.roll_row import guard, unguard
from studio.parcels.rules import BadMonth, read_month, read_months, write_months
from studio.parcels.services import Imported
from studio.web.models import Change
from tests.parcels import cast
from tests.parcels.cast import NOVEMBER, NOW
from tests.sales import cast as wares_cast

HEAD = "name,email,tier,country,street_address,city,country_area,postal_code"
ADA = "Ada Lind,ada@example.org,Saucer,Germany,Weg 1,Kiel,,24103"
BO = 'Bo Reed,bo@example.org,saucer,US,"12 Elm St, Apt 4",Salem,Oregon,97301'


def read(text: str | bytes) -> tuple[RollRow, ...]:
    data = text if isinstance(text, bytes) else text.encode()
    return read_roll(data, tiers=["Saucer", "Bowl"], forms=["Mug", "Vase"], this_month=NOVEMBER)


def causes(text: str | bytes) -> tuple[str, ...]:
    with pytest.raises(BadRoll) as refused:
        read(text)
    return refused.value.causes


def take_in(text: str, by: User) -> Imported:
    cast.tier()
    return services.import_supporters(rows=read(text), by=by, at=NOW)


def test_rows_are_read() -> None:
    first, second = read(f"{HEAD}\n{ADA}\n{BO}\n")
    assert (first.row, second.row) == (2, 3)
    assert first.values["country_code"] == "DE"
    assert second.values["tier"] == "Saucer"
    assert second.values["street_address"] == "12 Elm St, Apt 4"
    assert second.values["country_area"] == "OR"


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252", "utf-16"])
@pytest.mark.parametrize("mark", [",", ";", "\t"])
def test_files_as_spreadsheets_save_them(encoding: str, mark: str) -> None:
    text = f"{HEAD}\r\nZoë Müller,z@example.org,Bowl,Österreich?,Weg 1,Graz,,8010\r\n"
    text = text.replace("Österreich?", "AT").replace(",", mark)
    (row,) = read(text.encode(encoding))
    assert (row.values["name"], row.values["country_code"]) == ("Zoë Müller", "AT")


def test_an_unknown_field_is_named_with_the_nearest_and_the_list() -> None:
    (cause,) = causes("name,tier,country,email,postal_cod\nA,Saucer,GB,a@example.org,LS1 1AA\n")
    assert cause == (
        "Row 1: 'postal_cod' is no field known here. The nearest is 'postal_code'."
        f" Known: {', '.join(HEADERS)}."
    )


def test_other_wrong_headers() -> None:
    assert causes("name,email,country\nA,a@example.org,GB\n") == (
        "Row 1: the field 'tier' is missing. Every supporter needs one.",
    )
    assert causes("name,email,tier\nA,a@example.org,Saucer\n") == (
        "Row 1: the field 'country' is missing. Every supporter needs one.",
    )
    assert "needs the field 'number' or 'e-mail'" in causes("name,tier,country\nA,Saucer,GB\n")[0]
    assert causes("name,Tier,tier,country,email\n") == ("Row 1: the field 'tier' stands twice.",)


@pytest.mark.parametrize(
    ("data", "cause"),
    [
        (b"", "The file is empty."),
        (b"\n\n", "The file is empty."),
        (f"{HEAD}\n".encode(), "The file has a header and no rows below it."),
        (b"PK\x03\x04\x00\x00", "The file is no text. Save the sheet as CSV, in UTF-8."),
        (b'name,"tier\n', "The file is no CSV file"),
        (b"x" * (24 * 1024 * 1024 + 1), "The file is larger than 24 MB."),
    ],
)
def test_what_is_no_file_of_supporters(data: bytes, cause: str) -> None:
    assert causes(data)[0].startswith(cause)


@pytest.mark.parametrize(
    ("field", "cell", "cause"),
    [
        ("name", "", "Row 2, name: the name is missing."),
        ("name", "x" * 121, "Row 2, name: 121 characters are too many; 120 at most."),
        ("email", "ada at home", "Row 2, e-mail: 'ada at home' is no e-mail address."),
        ("email", "", "Row 2, e-mail: a person without a number needs an e-mail address."),
        ("tier", "Cup", "Row 2, tier: 'Cup' is no tier. Known: Saucer, Bowl."),
        ("tier", "", "Row 2, tier: the tier is missing. Known: Saucer, Bowl."),
        (
            "country",
            "",
            "Row 2, country: The country is missing. Without one a parcel cannot be addressed:"
            " choose it.",
        ),
        (
            "country",
            "Germny",
            "Row 2, country: 'Germny' is no country known here. Did you mean Germany (DE)?"
            " Use a two-letter code or a name.",
        ),
        ("postal_code", "", "Row 2, postal code: Germany: the postcode is missing."),
        (
            "postal_code",
            "2410",
            "Row 2, postal code: '2410' is no postcode of Germany. One looks like 26133, 53225.",
        ),
        (
            "country_area",
            "Holstein",
            "Row 2, country area: Germany: an address there has no state, province or county line"
            " of its own; leave it empty, or write it in the street address if the post there"
            " needs it.",
        ),
        ("number", "²", "Row 2, number: '²' is no number. Write a whole number, or leave it"
         " empty."),
        ("number", "9" * 5000, f"Row 2, number: '{'9' * 5000}' is no number. Write a whole number,"
         " or leave it empty."),
        ("number", "seven", "Row 2, number: 'seven' is no number. Write a whole number, or leave"
         " it empty."),
        ("joined_month", "Mar-26", "Row 2, month of joining: 'Mar-26' is no month. Write year"
         " and month, such as 2026-12."),
        ("joined_month", "2027-01", "Row 2, month of joining: January 2027 is still to come. Write"
         " the month they joined."),
        ("paused", "perhaps", "Row 2, paused: 'perhaps' is no month. Write year and month,"
         " such as 2026-12. Or write yes or no."),
        ("takes_seconds", "2", "Row 2, takes seconds: '2' is neither yes nor no."),
        ("address_confirmed_date", "1.2.2026", "Row 2, address confirmed on: '1.2.2026' may be"
         " 1 February or 2 January. Write it as 2026-02-01 or 2026-01-02."),
        ("please_no", "Mugg", "Row 2, rather no forms: 'Mugg' is no form known here. Did you"
         " mean Mug?"),
        ("paid_months", "2026-03..2026-01", "Row 2, paid months: '2026-03..2026-01' runs"
         " backwards. Write the earlier month first."),
        ("paid_months", "2026-12", "Row 2, paid months: December 2026 is still to come: a month is"
         " paid when it is."),
    ],
)  # fmt: skip
def test_every_wrong_cell_is_named_with_row_and_field(field: str, cell: str, cause: str) -> None:
    cells = dict(zip(HEAD.split(","), ADA.split(","), strict=True))
    cells[field] = cell
    found = causes(",".join(cells) + "\n" + ",".join(cells.values()) + "\n")
    assert found == (cause,)


def test_every_wrong_row_is_named_at_once() -> None:
    text = f"{HEAD}\n{ADA}\n,b@example.org,Cup,GB,1 A,Leeds,,LS1 4DY\nC,c@example.org,Bowl,,,,,\n"
    assert [cause.split(":")[0] for cause in causes(text)] == [
        "Row 3, name",
        "Row 3, tier",
        "Row 4, country",
    ]


def test_a_row_with_too_many_cells_and_a_person_twice() -> None:
    assert causes(f"{HEAD}\nA,a@example.org,Bowl,GB,1 A, Flat 2,Leeds,,LS1 4DY\n") == (
        "Row 2 has 9 cells, the header 8. A comma inside an address needs quotation marks around"
        " that cell.",
    )
    assert causes(f"{HEAD}\n{ADA}\n{ADA.upper().replace('SAUCER', 'Saucer')}\n") == (
        "Row 3, e-mail: 'ADA@EXAMPLE.ORG' stands in row 2 already. Leave one of the two.",
    )


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r"])
def test_what_looks_like_a_formula_is_text_and_is_written_harmless(start: str) -> None:
    cell = f"{start}HYPERLINK(1)"
    assert guard(cell) == f"'{cell}"
    assert unguard(guard(cell)) == cell
    assert guard("O'Neill") == unguard("O'Neill") == "O'Neill"


@pytest.mark.django_db
def test_a_formula_survives_the_way_in_and_out(potter: User) -> None:
    take_in(f"{HEAD}\n{ADA.replace('Ada Lind', '=1+2')}\n", potter)
    assert Supporter.objects.get().name == "=1+2"
    written = "".join(selectors.as_roll())
    assert ",'=1+2," in written
    assert "'" not in written.replace("'=1+2", "")
    (again,) = read(written)
    assert again.values["name"] == "=1+2"


@pytest.mark.django_db
def test_a_second_import_changes_nothing(potter: User) -> None:
    text = (
        f"{HEAD},paid_months,please_no,packing_note,joined_month\n"
        f'{ADA},"2026-09..2026-11",,no tape,2026-02\n'
        f"{BO},2026-10,mug,,2026-03\n"
    )
    wares_cast.line()
    first = take_in(text, potter)
    assert (first.added, first.changed, first.same) == (2, 0, 0)
    assert first.said == "Imported supporters: 2 new, 0 changed, 0 as they were"
    assert [s.number for s in Supporter.objects.all()] == [1, 2]
    before = list(Supporter.objects.values()), list(Payment.objects.values())
    second = take_in(text, potter)
    assert second.said == "Nothing to change: all 2 supporters are as the file has them."
    assert second.change is None
    assert (list(Supporter.objects.values()), list(Payment.objects.values())) == before
    assert Change.objects.filter(action="import_supporters").count() == 1
    third = services.import_supporters(
        rows=read_roll(
            "".join(selectors.as_roll()).encode(),
            tiers=["Saucer"],
            forms=["Mug"],
            this_month=NOVEMBER,
        ),
        by=potter,
        at=NOW,
    )
    assert third.change is None


@pytest.mark.django_db
def test_an_import_changes_who_is_known_and_is_undone(potter: User) -> None:
    take_in(f"{HEAD}\n{ADA}\n", potter)
    moved = ADA.replace("Weg 1", "Weg 2").replace("ada@", "ADA@")
    outcome = take_in(f"{HEAD},paid_months\n{moved},2026-11\n{BO},\n", potter)
    assert (outcome.added, outcome.changed, outcome.same) == (1, 1, 0)
    assert Supporter.objects.get(number=1).street_address == "Weg 2"
    assert outcome.change is not None
    services.undo(change=outcome.change, by=potter, at=NOW)
    ada = Supporter.objects.get()
    assert (ada.street_address, ada.email) == ("Weg 1", "ada@example.org")
    assert not Payment.objects.exists()


@pytest.mark.django_db
def test_a_file_that_was_worked_out_before_somebody_changed_a_supporter(potter: User) -> None:
    """What was worked out outside the transaction is only written while it still stands."""
    take_in(f"{HEAD}\n{ADA}\n", potter)
    rows = read(f"{HEAD}\n{ADA.replace('Weg 1', 'Weg 2')}\n{BO}\n")
    ready = services.prepare_import(rows=rows, at=NOW)
    ada = Supporter.objects.get()
    services.change_supporter(supporter=ada, values={"packing_note": "no tape"}, by=potter, at=NOW)
    cast.supporter("Cy", potter)  # takes the number 2 that Bo was to have
    outcome = services.import_supporters(rows=rows, ready=ready, by=potter, at=NOW)
    assert (outcome.added, outcome.changed) == (1, 1)
    ada.refresh_from_db()
    assert (ada.street_address, ada.packing_note) == ("Weg 2", "no tape")
    assert Supporter.objects.get(name="Bo Reed").number == 3


@pytest.mark.django_db
def test_a_longer_file_asks_the_database_no_more_often(potter: User) -> None:
    wares_cast.line()
    head = f"{HEAD},paid_months,please_no"

    def asked(first: int, count: int, note: str) -> int:
        file = "\n".join(
            f"P{n},p{n}@example.org,Saucer,GB,{note} {n},Leeds,,LS1 4DY,2026-11,Mug"
            for n in range(first, first + count)
        )
        rows = read(f"{head}\n{file}\n")
        ready = services.prepare_import(rows=rows, at=NOW)
        with CaptureQueriesContext(connection) as queries:
            services.import_supporters(rows=rows, ready=ready, by=potter, at=NOW)
        return len(queries)

    cast.tier()
    assert asked(0, 3, "Row") == asked(100, 30, "Row")
    assert asked(0, 3, "Road") == asked(100, 30, "Road")


@pytest.mark.django_db
def test_an_email_given_up_in_the_file_is_free_in_it(potter: User) -> None:
    take_in(f"number,{HEAD}\n1,{ADA}\n", potter)
    moved = ADA.replace("ada@", "lind@")
    outcome = take_in(f"number,{HEAD}\n1,{moved}\n,{ADA.replace('Ada Lind', 'Ada New')}\n", potter)
    assert (outcome.added, outcome.changed) == (1, 1)
    emails = dict(Supporter.objects.values_list("name", "email"))
    assert emails == {"Ada Lind": "lind@example.org", "Ada New": "ada@example.org"}


@pytest.mark.django_db
def test_one_row_the_database_knows_better_takes_all_back(potter: User) -> None:
    take_in(f"{HEAD}\n{ADA}\n{BO}\n", potter)
    cast.tier()
    text = f"number,{HEAD}\n9,{ADA.replace('ada@', 'new@')}\n1,{BO}\n"
    with pytest.raises(BadRoll) as refused:
        services.import_supporters(rows=read(text), by=potter, at=NOW)
    assert refused.value.causes == (
        "Row 3: number 1 is Ada Lind, but the e-mail bo@example.org is supporter 2's."
        " Correct one of the two.",
    )
    assert Supporter.objects.count() == 2
    with pytest.raises(BadRoll, match="not number 8's"):
        services.import_supporters(rows=read(f"number,{HEAD}\n8,{BO}\n"), by=potter, at=NOW)


@pytest.mark.django_db
def test_a_new_person_needs_an_address_and_months_after_joining(potter: User) -> None:
    with pytest.raises(BadRoll, match="Row 2: Germany: the street address is missing"):
        take_in("name,email,tier,country\nAda,ada@example.org,Saucer,DE\n", potter)
    with pytest.raises(
        BadRoll, match="Row 2: paid months: a paid month lies before the month of joining"
    ):
        take_in(f"{HEAD},joined_month,paid_months\n{ADA},2026-05,2026-04\n", potter)
    assert not Supporter.objects.exists()
    # A file of known people may leave the address out.
    take_in(f"{HEAD}\n{ADA}\n", potter)
    take_in("name,email,tier,country\nAda L,ada@example.org,Saucer,DE\n", potter)
    assert Supporter.objects.get().name == "Ada L"
    assert Supporter.objects.get().street_address == "Weg 1"


def test_months_in_one_cell() -> None:
    january = read_month("2026-01")
    assert read_months("2026-01..2026-03, 2026-05") == (
        january, january + 1, january + 2, january + 4,
    )  # fmt: skip
    assert read_months("") == ()
    with pytest.raises(BadMonth):
        read_months("2026-01..")


@settings(deadline=None)
@given(st.sets(st.integers(24000, 24400), max_size=30))
def test_months_survive_the_way_out_and_in(months: set[int]) -> None:
    assert read_months(write_months(months)) == tuple(sorted(months))
