"""Does a file go in by three pages, with any header, in whole or in part, and out again?"""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest
import time_machine
from django.contrib.auth.models import User
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from studio.parcels import roll, services, uploads
from studio.parcels.models import AddressLook, Supporter
from studio.parcels.services import rolls as roll_services
from studio.web.models import Change
from studio.web.refusal import Refusal
from tests.parcels import cast
from tests.parcels.cast import NOW

pytestmark = pytest.mark.django_db

HEAD = "First name;Last name;Mail;Level;Land;Address 1;Address 2;Town;Zip;Shirt size"
ZOE = "Zoë;Lind;z@example.org;Saucer;Germany;Weg 1;Hinterhaus;Kiel;24103;M"
BO = "Bo;Reed;bo@example.org;Saucer;Germany;Weg 2;;Kiel;24103;S"


@pytest.fixture(autouse=True)
def today() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def sent_root(tmp_path: Path, settings: Any) -> Path:
    settings.SENT_ROOT = tmp_path / "sent"
    return tmp_path / "sent"


class Sender:
    """Somebody at the three pages."""

    def __init__(self, client: Client, form_key: Callable[[], str]) -> None:
        self.client, self.form_key = client, form_key

    def send(self, text: str | bytes) -> Any:
        data = text if isinstance(text, bytes) else text.encode("cp1252")
        file = SimpleUploadedFile("people.csv", data)
        sent = {"file": file, "form_key": self.form_key()}
        return self.client.post(reverse("parcels:import"), sent)

    def changes(self, columns: str, **asked: str) -> str:
        """The address of the third page: the columns' page with its address and the choice."""
        fields = columns.removesuffix("/")
        self.page = self.client.get(columns).context["form"]
        query = {box.name: box.value() or "" for box in self.page.columns()}
        return f"{fields}/changes/?{urlencode({**query, 'tier': '', 'country': '', **asked})}"

    def take(self, url: str, **sent: Any) -> Any:
        return self.client.post(url, {"which": "all", "form_key": self.form_key(), **sent})


@pytest.fixture
def sender(signed_in: Client, form_key: Callable[[], str]) -> Sender:
    cast.tier()
    return Sender(signed_in, form_key)


def test_a_file_with_its_own_header_goes_in_and_changes_nothing_twice(
    sender: Sender, sent_root: Path
) -> None:
    columns = sender.send(f"{HEAD}\r\n{ZOE}\r\n")["Location"]
    page = sender.client.get(columns).text
    assert "1 row below the header" in page
    assert "Shirt size" in page
    url = sender.changes(columns)
    fields = [box.value() for box in sender.page.columns()]
    assert fields == [
        "name", "name", "email", "tier", "country", "street_address", "street_address", "city",
        "postal_code", "",
    ]  # fmt: skip
    page = sender.client.get(url).text
    assert "1 new, 0 changed, 0 the same" in page
    assert "Left out: Shirt size." in page
    assert not Supporter.objects.exists()
    answer = sender.take(url)
    assert answer["Location"] == reverse("parcels:supporters")
    assert "Imported supporters: 1 new" in sender.client.get(answer["Location"]).text
    zoe = Supporter.objects.get()
    assert (zoe.name, zoe.street_address) == ("Zoë Lind", "Weg 1\nHinterhaus")
    assert list(sent_root.iterdir()) == []  # what was taken in does not lie about
    answer = sender.client.get(url, follow=True)
    assert "That file is not here any more" in answer.text
    url = sender.changes(sender.send(f"{HEAD}\r\n{ZOE}\r\n")["Location"])
    assert "Nothing to change: all 1 supporters" in sender.client.get(url).text
    sender.take(url)
    assert Change.objects.filter(action="import_supporters").count() == 1


def test_wrong_rows_say_why_and_the_others_go_in(sender: Sender, sent_root: Path) -> None:
    wrong = ZOE.replace("24103", "1").replace("Saucer", "Cup")
    url = sender.changes(sender.send(f"{HEAD}\r\n{wrong}\r\n{BO}\r\n")["Location"])
    page = sender.client.get(url).text
    assert "1 new, 0 changed, 0 the same, <strong>1 row refused" in page
    assert "Row 2, postal code: &#x27;1&#x27; is no postcode of Germany." in page
    assert "Row 2, tier: &#x27;Cup&#x27; is no tier. Known: Saucer." in page
    assert "that are not shown" not in page  # 2 faults of 1 row, and 1 new: all are shown
    sender.take(url)
    assert [person.name for person in Supporter.objects.all()] == ["Bo Reed"]


def test_only_the_chosen_rows_go_in(sender: Sender, sent_root: Path) -> None:
    cy = BO.replace("Bo;Reed", "Cy;Wu").replace("bo@", "cy@")
    url = sender.changes(sender.send(f"{HEAD}\r\n{ZOE}\r\n{BO}\r\n{cy}\r\n")["Location"])
    for sent, sentence in (
        ({}, "Choose at least one row"),
        ({"rows": "two"}, "is no row"),
        ({"rows": "4..3"}, "runs backwards"),
    ):
        answer = sender.take(url, which="chosen", **sent)
        assert (answer.status_code, sentence in answer.text) == (422, True), sentence
    assert not Supporter.objects.exists()
    sender.take(url, which="chosen", row=["2"], rows="4..9")
    assert {person.name for person in Supporter.objects.all()} == {"Zoë Lind", "Cy Wu"}


def test_a_column_is_corrected_by_hand_and_one_may_be_missing(
    sender: Sender, sent_root: Path
) -> None:
    head = "Who,How to reach,Street,Place,Code"
    columns = sender.send(f"{head}\nAda,ada@example.org,Weg 1,Kiel,24103\n")["Location"]
    url = sender.changes(columns)
    fields = [box.value() for box in sender.page.columns()]
    assert fields == ["", "email", "street_address", "", ""]  # the mail by its cells
    assert "the field &#x27;name&#x27; is missing" in sender.client.get(url).text
    url = sender.changes(columns, c0="name", c3="city", c4="postal_code")
    answer = sender.client.get(url)
    assert (answer.status_code, "&#x27;tier&#x27; is missing" in answer.text) == (422, True)
    url = sender.changes(
        columns, c0="name", c3="city", c4="postal_code", tier="Saucer", country="DE"
    )
    sender.take(url)
    assert Supporter.objects.get().city == "Kiel"
    answer = sender.client.get(sender.changes(sender.send(f"{head}\nA,,,,\n")["Location"], c0="x"))
    assert (answer.status_code, "Choose a field of the list" in answer.text) == (422, True)


def test_a_file_that_cannot_be_read_says_so(sender: Sender, sent_root: Path) -> None:
    for data, sentence in (
        (b"", "The file is empty."),
        (b"name,email\n", "The file has a header and no rows below it."),
        (b"PK\x03\x04\x00\x00", "The file is no text."),
    ):
        answer = sender.send(data)
        assert (answer.status_code, sentence in answer.text) == (422, True), sentence
    assert not sent_root.exists()


def test_a_file_that_breaks_off_further_down_is_refused_when_it_is_sent(
    sender: Sender, sent_root: Path
) -> None:
    answer = sender.send(f'{HEAD}\r\n{ZOE}\r\n{BO}\r\n"Al"i;Khan;a@example.org;Saucer;Germany')
    assert answer.status_code == 422
    assert "row 4" in answer.text


def test_what_the_studio_knows_better_is_refused_by_row(
    sender: Sender, sent_root: Path, potter: User
) -> None:
    cast.supporter("Ada", potter, email="ada@example.org")
    text = "number,name,email,tier,country\n7,Ada,ada@example.org,Saucer,GB\n"
    answer = sender.client.get(sender.changes(sender.send(text)["Location"]))
    assert "not number 7&#x27;s" in answer.text
    assert "No row can be taken in" in answer.text


def test_what_changes_is_shown_in_words(sender: Sender, sent_root: Path, potter: User) -> None:
    cast.supporter("Ada", potter, email="ada@example.org", packing_note="no tape")
    cast.tier("Bowl", 2)
    text = (
        "number,name,email,tier,country,street_address,city,postal_code,packing_note,paid_months\n"
        "1,Ada,ada@example.org,Bowl,GB,4 Kiln Row,York,YO1 7HH,,2026-07..2026-11\n"
    )
    page = sender.client.get(sender.changes(sender.send(text)["Location"])).text
    assert "tier Saucer → Bowl; city Leeds → York; postal code LS1 4DY → YO1 7HH" in page
    assert "packing note no tape → (empty); 2 months" in page


def test_a_long_file_goes_in_by_steps_that_can_each_be_undone(
    sender: Sender, sent_root: Path, potter: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(roll_services, "STEP", 3)
    rows = "\n".join(f"P{n},p{n}@example.org,Saucer,GB,{n} Row,Leeds,LS1 4DY" for n in range(8))
    text = f"name,email,tier,country,street_address,city,postal_code\n{rows}\n"
    answer = sender.take(sender.changes(sender.send(text)["Location"]))
    page = sender.client.get(answer["Location"]).text
    assert "Imported supporters in 3 steps: 8 new, 0 changed, 0 as they were." in page
    assert list(Supporter.objects.values_list("number", flat=True)) == list(range(1, 9))
    changes = Change.objects.filter(action="import_supporters").order_by("-id")
    assert len(changes) == 3
    for change in changes:
        services.undo(change=change, by=potter, at=NOW)
    assert not Supporter.objects.exists()


def test_what_changed_between_the_look_and_the_saving_is_said(
    potter: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Somebody gave a number away after the step was worked out, and before it was written."""
    cast.tier()
    text = b"number,name,email,tier,country,street_address,city,postal_code\n"
    text += b"7,Ada,ada@example.org,Saucer,GB,4 Kiln Row,Leeds,LS1 4DY\n"
    rows = roll.read_roll(text, tiers=["Saucer"], forms=[], this_month=cast.NOVEMBER)
    plain = roll_services.prepare_import

    def and_then_somebody_else(**given: Any) -> Any:
        ready = plain(**given)
        if not Supporter.objects.exists():
            cast.supporter("Bo", potter, email="ada@example.org")
        return ready

    monkeypatch.setattr(roll_services, "prepare_import", and_then_somebody_else)
    with pytest.raises(Refusal, match="Somebody changed supporters at this moment"):
        services.import_step(rows=rows, chosen=None, by=potter, at=NOW)
    assert [person.name for person in Supporter.objects.all()] == ["Bo"]


def test_a_kept_file_is_its_senders_alone_and_goes_after_a_day(
    sender: Sender, sent_root: Path, other_potter: User, potter: User
) -> None:
    columns = sender.send(f"{HEAD}\r\n{ZOE}\r\n")["Location"]
    token = columns.rstrip("/").rpartition("/")[2]
    assert uploads.kept(token=token, by_id=potter.pk) is not None
    assert uploads.kept(token=token, by_id=other_potter.pk) is None
    assert uploads.kept(token="../../x", by_id=potter.pk) is None
    (path,) = sent_root.iterdir()
    assert path.stat().st_mode & 0o077 == 0
    old = time.time() - uploads.KEPT.total_seconds() - 60
    os.utime(path, (old, old))
    uploads.prune()
    assert list(sent_root.iterdir()) == []


def test_no_file_that_may_name_them_waits_when_somebody_is_erased(
    sender: Sender, sent_root: Path, potter: User
) -> None:
    ada = cast.supporter("Ada", potter)
    sender.send(f"{HEAD}\r\n{ZOE}\r\n")
    url = reverse("parcels:erase", args=[ada.id])
    sender.client.post(url, {"form_key": sender.form_key()})
    assert list(sent_root.iterdir()) == []


def test_the_export_goes_in_again(sender: Sender, sent_root: Path, potter: User) -> None:
    ada = cast.supporter("=Ada", potter, email="ada@example.org", household="Row")
    services.pause(supporter=ada, from_month=cast.NOVEMBER, to_month=None, by=potter, at=NOW)
    out = sender.client.get(reverse("parcels:export"))
    data = b"".join(out.streaming_content)
    assert out["Content-Type"] == "text/csv; charset=utf-8"
    assert 'filename="supporters-2026-11-20.csv"' in out["Content-Disposition"]
    assert b",'=Ada," in data
    page = sender.client.get(sender.changes(sender.send(data)["Location"])).text
    assert "Nothing to change: all 1 supporters" in page


def test_the_same_form_twice_acts_once(sender: Sender, sent_root: Path) -> None:
    url = sender.changes(sender.send(f"{HEAD}\r\n{ZOE}\r\n")["Location"])
    key = sender.form_key()
    for _ in range(2):
        assert sender.take(url, form_key=key)["Location"] == reverse("parcels:supporters")
    assert Supporter.objects.count() == 1


def long_file(rows: int, *, twice: bool = False) -> str:
    """So many people; with ``twice`` the last one has the e-mail of the first."""
    mails = [f"p{n}@example.org" for n in range(rows)]
    if twice:
        mails[-1] = "P0@example.org"
    lines = [f"P{n},{mail},Saucer,GB,{n} Row,Leeds,LS1 4DY" for n, mail in enumerate(mails)]
    return "name,email,tier,country,street_address,city,postal_code\n" + "\n".join(lines)


def test_a_long_file_is_looked_at_a_part_a_request(
    sender: Sender, sent_root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(roll_services, "STEP", 3)  # two steps, so six rows, a request
    url = sender.changes(sender.send(long_file(14, twice=True))["Location"])
    page = sender.client.get(url).text
    assert "6 of 14 rows" in page
    assert '<progress id="far" max="14" value="6">' in page
    assert '<noscript><meta http-equiv="refresh" content="0"></noscript>' in page
    assert "Take in" not in page
    assert not Supporter.objects.exists()
    assert len(list(sent_root.iterdir())) == 2
    part = sender.client.get(url, headers={"HX-Request": "true"}).text
    assert "12 of 14 rows" in part
    assert "<html" not in part
    last = sender.client.get(url, headers={"HX-Request": "true"})
    assert last["HX-Redirect"].startswith(url.partition("?")[0])
    page = sender.client.get(url).text
    assert "13 new, 0 changed, 0 the same, <strong>1 row refused" in page
    # The first of the two stood in another request.
    assert "Row 15, e-mail: &#x27;P0@example.org&#x27; stands in row 2 already." in page
    answer = sender.take(url, which="chosen")
    assert (answer.status_code, "Choose at least one row" in answer.text) == (422, True)
    assert sender.take(url).status_code == 302
    assert Supporter.objects.count() == 13
    assert list(sent_root.iterdir()) == []


def test_a_long_look_begins_anew_for_other_columns_and_when_asked(
    sender: Sender, sent_root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(roll_services, "STEP", 2)
    columns = sender.send(long_file(9))["Location"]
    url = sender.changes(columns)
    for done in ("4 of 9", "8 of 9"):
        assert done in sender.client.get(url).text
    assert "4 of 9" in sender.client.get(sender.changes(columns, c0="packing_note", c6="name")).text
    for _ in range(3):
        page = sender.client.get(url).text
    assert "Look again" in page
    assert "4 of 9" in sender.client.get(url + "&again=1").text
    short = sender.client.get(sender.changes(sender.send(long_file(4))["Location"])).text
    assert "4 new" in short
    assert "Look again" not in short


def test_an_address_that_is_shown_beside_the_new_one_is_a_look(
    sender: Sender, sent_root: Path, potter: User
) -> None:
    for name in ("Ada", "Bo", "Cy"):
        cast.supporter(name, potter, email=f"{name.lower()}@example.org")
    text = (
        "number,name,email,tier,country,street_address,city,postal_code,packing_note\n"
        "1,Adah,ada@example.org,Saucer,GB,9 Ash Lane,Leeds,LS1 4DY,\n"
        "2,Bo,bo@example.org,Saucer,GB,4 Kiln Row,Leeds,LS1 4DY,no tape\n"
        "3,Cy,cy@example.org,Saucer,GB,4 Kiln Row,Leeds,LS1 4DY,\n"
    )
    page = sender.client.get(sender.changes(sender.send(text)["Location"])).text
    assert "street address 4 Kiln Row → 9 Ash Lane" in page
    assert [(look.page, look.name, look.by) for look in AddressLook.objects.all()] == [
        ("import", "Ada", potter)
    ]
