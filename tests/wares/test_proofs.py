"""Does the record say how a line stands, and does a page say no more of food than is on file?"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from studio.wares import rules, selectors, services
from studio.wares.kinds import kind_of
from studio.wares.models import Board, Bucket, Fault, Line, Piece, ProofRule
from studio.web.models import Change
from studio.web.refusal import Refusal
from tests import make

pytestmark = pytest.mark.django_db
Key = Callable[[], str]


@pytest.fixture
def who() -> dict[str, Any]:
    return {"by": make.user(), "at": timezone.now()}


def came_out(times: int, count: int = 8) -> tuple[Line, list[Board]]:
    """A line whose ware came out of so many firings, all good; it stands untried as yet."""
    line = make.line(standing="untried")
    return line, [make.board("fired", count) for _ in range(times)]


def restood(line: Line, who: dict[str, Any]) -> Line:
    """The line after its record was read again."""
    services.set_proof_rule(
        firings=3, pieces=12, good_percent=80, confirming=1, by_kiln=False, craze_days=7, **who
    )
    line.refresh_from_db()
    return line


def test_the_record_proves_a_line(who: dict[str, Any]) -> None:
    line, _ = came_out(2)
    assert restood(line, who).standing == "trial"
    make.board("fired", 8)
    ProofRule.objects.all().delete()
    assert restood(line, who).standing == "proven"
    # 24 of 24: 0.05^(1/24) = 0.8827.
    assert selectors.verdict_of(line).said == (
        "24 of 24 good in 3 firings: at least 88 in 100 come out good, as far as the record says"
    )


def test_grading_speaks_and_its_undoing_takes_it_back(who: dict[str, Any]) -> None:
    line, boards = came_out(3, count=6)
    assert restood(line, who).standing == "proven"
    change = services.grade(board=boards[0], firsts=0, seconds=0, refires=2, scraps=4, **who)
    line.refresh_from_db()
    # 12 of 18 good: far from 80 in 100.
    assert line.standing == "trial"
    assert "12 of 18 good in 3 firings so far" in selectors.verdict_of(line).said
    services.undo(change=change, **who)
    line.refresh_from_db()
    assert line.standing == "proven"


def test_forms_share_the_record_of_their_glaze_and_clay(who: dict[str, Any]) -> None:
    line, _ = came_out(1)
    bowl = make.line(form=make.form("Bowl"), standing="untried")
    other = make.line(coats=make.coats("Dusk"), standing="untried")
    restood(line, who)
    bowl.refresh_from_db()
    other.refresh_from_db()
    assert (bowl.standing, other.standing) == ("trial", "untried")


def test_each_kiln_may_have_to_prove_it(who: dict[str, Any]) -> None:
    line, boards = came_out(3)
    restood(line, who)
    kiln = boards[0].pieces.all()[0].glaze_firing.kiln_id  # type: ignore[union-attr]
    key = kind_of(line)
    assert selectors.standings(kiln_id=kiln)[key] == "proven"
    assert selectors.standings(kiln_id=kiln + 99)[key] == "proven"
    ProofRule.objects.update(by_kiln=True)
    assert selectors.standings(kiln_id=kiln)[key] == "proven"
    assert selectors.standings(kiln_id=kiln + 99)[key] == "trial"


# --- buckets and lots ----------------------------------------------------------------------------


def test_a_new_bucket_puts_its_lines_on_trial(who: dict[str, Any]) -> None:
    line, _ = came_out(3)
    restood(line, who)
    by_word = make.line(clay_lot=make.clay_lot(lot="9"), standing="proven")
    today = timezone.localdate(who["at"])
    change = services.new_bucket(glaze=make.glaze(), mixed_date=today, note="new frit", **who)
    for one in (line, by_word):
        one.refresh_from_db()
        assert one.standing == "trial"
    assert "a new bucket of Kelp on" in selectors.verdict_of(line).said
    assert "on trial until one load of it came out well" in selectors.verdict_of(line).said
    assert Bucket.objects.count() == 2
    make.glaze().refresh_from_db()
    services.undo(change=change, **who)
    for one in (line, by_word):
        one.refresh_from_db()
        assert one.standing == "proven"
    assert not Bucket.objects.exists()
    assert make.glaze().mixed_date == date(2026, 1, 20)


def test_a_word_after_the_bucket_holds(who: dict[str, Any]) -> None:
    line = make.line(standing="proven")
    today = timezone.localdate(who["at"])
    services.new_bucket(glaze=make.glaze(), mixed_date=today, **who)
    later = who | {"at": who["at"] + timedelta(hours=1)}
    services.set_standing(line=Line.objects.get(), standing="proven", **later)
    line.refresh_from_db()
    assert (line.standing, line.is_learnt) == ("proven", False)
    assert selectors.verdict_of(line).said == "by your own word; no record yet"


@pytest.mark.parametrize(
    ("days", "says"), [(1, "is in the future"), (-20_000, "a new one is younger")]
)
def test_buckets_that_cannot_be(who: dict[str, Any], days: int, says: str) -> None:
    mixed = timezone.localdate(who["at"]) + timedelta(days=days)
    with pytest.raises(Refusal, match=says):
        services.new_bucket(glaze=make.glaze(), mixed_date=mixed, **who)


def test_the_second_bucket_cannot_be_undone_after_the_third(who: dict[str, Any]) -> None:
    today = timezone.localdate(who["at"])
    first = services.new_bucket(glaze=make.glaze(), mixed_date=today - timedelta(days=9), **who)
    services.new_bucket(glaze=make.glaze(), mixed_date=today, **who)
    with pytest.raises(Refusal, match="the glaze has another bucket now"):
        services.undo(change=first, **who)


def test_a_new_lot_of_a_proven_clay_begins_on_trial(who: dict[str, Any]) -> None:
    line = make.line(standing="proven")
    lot = make.clay_lot(lot="8", received_date=date(2026, 3, 1))
    four = {"form": line.form, "coats": line.coats, "schedule": line.schedule}
    new = services.ensure_line(clay_lot=lot, **four, **who)
    assert new.standing == "trial"
    said = selectors.verdict_of(new).said
    assert said.startswith("proven before; Heron stoneware, lot 8 is a new lot: on trial until")
    strange = make.clay_lot("Chalk", "1")
    assert services.ensure_line(clay_lot=strange, **four, **who).standing == "untried"


# --- the rule ------------------------------------------------------------------------------------


def test_the_rule_is_the_studios_and_has_a_way_back(who: dict[str, Any]) -> None:
    line, _ = came_out(1, count=6)
    asked = {"firings": 1, "pieces": 4, "good_percent": 50, "confirming": 1, "by_kiln": False,
             "craze_days": 7}  # fmt: skip
    change = services.set_proof_rule(**asked, **who)
    line.refresh_from_db()
    assert line.standing == "proven"
    services.undo(change=change, **who)
    line.refresh_from_db()
    assert not ProofRule.objects.exists()
    assert line.standing != "proven"
    with pytest.raises(Refusal, match=r"100 good in 100 cannot be shown"):
        services.set_proof_rule(**(asked | {"good_percent": 100}), **who)
    with pytest.raises(Refusal, match=r"400 days of looking for crazing"):
        services.set_proof_rule(**(asked | {"craze_days": 400}), **who)


# --- one piece, three times the usual, and where graded ware stands ------------------------------


def test_a_fault_on_one_piece(who: dict[str, Any]) -> None:
    piece = make.board("graded", 3).pieces.all()[0]
    change = services.see_fault(piece=piece, fault="pinhole", **who)
    assert change.said == f"No. {piece.number}: pinholes seen"
    assert list(Fault.objects.values_list("piece_id", "kind")) == [(piece.id, "pinhole")]
    with pytest.raises(Refusal, match="this fault is written down already"):
        services.see_fault(piece=piece, fault="pinhole", **who)
    with pytest.raises(Refusal, match="Choose which fault it is"):
        services.see_fault(piece=piece, fault="gremlin", **who)
    services.undo(change=change, **who)
    assert not Fault.objects.exists()


def test_three_times_the_usual_is_asked_about(who: dict[str, Any]) -> None:
    form, lot = make.form(), make.clay_lot()
    day = timezone.localdate(who["at"])
    asked = {"form": form, "clay_lot": lot, "made_date": day} | who
    services.throw(count=200, sure=False, **asked)  # nobody knows yet what is usual
    for count in (10, 12, 12):
        services.throw(count=count, sure=False, **asked)
    assert selectors.usual_throw(form) == 12
    services.throw(count=36, sure=False, **asked)
    with pytest.raises(
        Refusal, match="37 × Mug on one board is more than three times the usual 12"
    ):
        services.throw(count=37, sure=False, **asked)
    services.throw(count=37, sure=True, **asked)


def test_graded_ware_is_put_where_it_is_said(who: dict[str, Any]) -> None:
    board = make.board("fired", 4)
    was = board.place
    change = services.grade(board=board, firsts=4, seconds=0, place="long shelf", **who)
    board.refresh_from_db()
    assert board.place == "long shelf"
    services.undo(change=change, **who)
    board.refresh_from_db()
    assert board.place == was
    part = services.grade(board=board, firsts=2, seconds=0, place="long shelf", **who)
    board.refresh_from_db()
    assert board.place == was
    assert Board.objects.get(pk=(part.undo or {})["onto"]).place == "long shelf"


# --- pages ---------------------------------------------------------------------------------------


def test_the_pages_of_a_line(signed_in: Client, form_key: Key) -> None:
    line, boards = came_out(1)
    page = signed_in.get(reverse("wares:line", args=[line.id])).text
    assert rules.NO_LAB_RESULT in page
    assert f"?clay_lot={line.clay_lot_id}&amp;coats={line.coats_id}" in page
    called = reverse("wares:line_standing", args=[line.id, "proven"])
    assert signed_in.post(called, {"form_key": form_key()}).status_code == 302
    assert "By your own word; the record says 8 of 8 good in 1 firing." in (
        signed_in.get(reverse("wares:line", args=[line.id])).text
    )
    typed = {
        "form_key": form_key(), "lab": "Weir Laboratory", "tested_date": "2026-02-03",
        "method": "acetic acid", "measured": "lead", "result": "0.02", "unit": "mg/l",
        "limit": "2",
    }  # fmt: skip
    lab = reverse("wares:lab_result", args=[line.id])
    refused = signed_in.post(lab, typed)
    assert refused.status_code == 422
    assert "Say where the limit is written" in refused.text
    assert 'value="Weir Laboratory"' in refused.text
    more = {"form_key": form_key(), "limit_source": "a rule of 2020", "limit_date": "2026-02-01"}
    assert signed_in.post(lab, typed | more).status_code == 302
    page = signed_in.get(reverse("wares:line", args=[line.id])).text
    assert "lab test on file: lead 0.02 mg/l" in page
    assert "food safe" not in page.lower()
    assert "lab tests on file, see its lines" in signed_in.get(reverse("wares:coats")).text
    assert "lab tests on file, see its lines" in signed_in.get(reverse("wares:glazes")).text
    piece = boards[0].pieces.all()[0]
    seen = reverse("wares:fault", args=[piece.id])
    assert signed_in.post(seen, {"form_key": form_key(), "fault": "craze"}).status_code == 302
    assert "Crazing was seen" in signed_in.get(reverse("wares:line", args=[line.id])).text
    assert signed_in.post(seen, {"form_key": form_key(), "fault": ""}).status_code == 409


def test_the_pages_of_bucket_and_rule(signed_in: Client, form_key: Key) -> None:
    make.line(standing="proven")
    glaze = make.glaze()
    url = reverse("wares:bucket", args=[glaze.id])
    assert "Mug in Kelp all over" in signed_in.get(url).text
    old = signed_in.post(url, {"form_key": form_key(), "mixed_date": "2020-01-01"})
    assert (old.status_code, "a new one is younger" in old.text) == (422, True)
    today = str(timezone.localdate())
    signed_in.post(url, {"form_key": form_key(), "mixed_date": today, "note": "thin"})
    assert Line.objects.get().standing == "trial"
    signed_in.post(
        reverse("undo", args=[Change.objects.get(action="bucket").id]), {"form_key": form_key()}
    )
    assert Line.objects.get().standing == "proven"
    rule = reverse("wares:proof_rule")
    assert 'value="80"' in signed_in.get(rule).text
    typed = {"firings": 2, "pieces": 8, "good_percent": 70, "confirming": 5, "craze_days": 7}
    bad = signed_in.post(rule, typed | {"form_key": form_key()})
    assert "confirmed by 1 to 2 firings, not 5" in bad.text
    signed_in.post(rule, typed | {"form_key": form_key(), "confirming": 1, "by_kiln": "on"})
    assert ProofRule.objects.get().by_kiln


def test_grading_and_throwing_ask_on_their_pages(signed_in: Client, form_key: Key) -> None:
    board = make.board("fired", 6)
    page = reverse("wares:grade", args=[board.id])
    shown = signed_in.get(page)
    assert 'value="shelf"' in shown.text
    seen = shown.context["form"].initial["seen"]
    counts = {"seconds": 5, "refires": 0, "scraps": 4, "later": 0, "seen": seen}
    wrong = signed_in.post(page, counts | {"form_key": form_key()})
    assert "5 + 4 is 9, but 6 stand here." in wrong.text
    right = counts | {"seconds": 1, "scraps": 0, "place": "window", "form_key": form_key()}
    signed_in.post(page, right)
    board.refresh_from_db()
    assert (board.place, Piece.objects.filter(grade="second").count()) == ("window", 1)
    for _ in range(2):
        make.board("thrown", 6)
    typed = {"form": make.form().id, "clay_lot": make.clay_lot().id, "count": 40,
             "made_date": str(timezone.localdate())}  # fmt: skip
    asked = signed_in.post(reverse("wares:throw"), typed | {"form_key": form_key()})
    assert (asked.status_code, "three times the usual 6" in asked.text) == (422, True)
    assert 'name="sure"' in asked.text
    sure = typed | {"form_key": form_key(), "sure": "on"}
    assert signed_in.post(reverse("wares:throw"), sure).status_code == 302
