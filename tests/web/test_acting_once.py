"""Does a form act exactly once, however often and however fast it is sent?"""

import uuid
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor

import pytest
from django.contrib.auth.models import Group, User
from django.db import connection
from django.http import HttpResponse
from django.test import Client

from studio.web.models import Change, FormKey
from tests.conftest import MODEL_BACKEND
from tests.web import urls

pytestmark = pytest.mark.urls("tests.web.urls")


@pytest.fixture(autouse=True)
def no_runs() -> Iterator[None]:
    urls.runs.clear()
    yield
    urls.runs.clear()


def send(client: Client, key: str, name: str = "mug", path: str = "/tests/plain/") -> HttpResponse:
    return client.post(path, {"form_key": key, "name": name})


def test_a_form_acts_and_its_key_remembers_where_it_went(
    signed_in: Client, potter: User, form_key: Callable[[], str]
) -> None:
    key = form_key()
    answer = send(signed_in, key)
    assert answer.headers["Location"] == "/went/1/"
    assert Group.objects.count() == 1
    row = FormKey.objects.get()
    assert (str(row.key), row.by, row.went_to) == (key, potter, "/went/1/")
    assert key in signed_in.cookies["wareboard_answered"].value


def test_the_same_key_again_does_nothing_and_leads_to_the_first_result(
    signed_in: Client, form_key: Callable[[], str]
) -> None:
    key = form_key()
    first = send(signed_in, key)
    again = send(signed_in, key)
    assert again.status_code == 302
    assert again.headers["Location"] == first.headers["Location"] == "/went/1/"
    assert urls.runs == ["mug"]
    assert Group.objects.count() == Change.objects.count() == 1


def test_the_same_key_with_other_values_is_refused_not_dropped(
    signed_in: Client, form_key: Callable[[], str]
) -> None:
    key = form_key()
    send(signed_in, key)
    changed = send(signed_in, key, name="bowl")
    assert changed.status_code == 409
    assert "This form was saved before with other values" in changed.text
    assert Group.objects.count() == 1


def test_a_key_is_for_one_form_and_one_person(
    signed_in: Client, other_potter: User, form_key: Callable[[], str]
) -> None:
    key = form_key()
    send(signed_in, key)
    assert send(signed_in, key, path="/tests/other/").status_code == 400
    other = Client()
    other.force_login(other_potter, backend=MODEL_BACKEND)
    stolen = send(other, key)
    assert stolen.status_code == 400
    assert "This key belongs to another form" in stolen.text
    assert Group.objects.count() == 1


@pytest.mark.parametrize("key", ["", "7", "not-a-key", "0e4fb1a2-6c4f-4d3f-8a56-0c8a5d1f2b3"])
def test_a_missing_or_garbled_key_is_refused(signed_in: Client, key: str) -> None:
    answer = send(signed_in, key)
    assert answer.status_code == 400
    assert "This form came without its key, so nothing was saved." in answer.text
    assert urls.runs == []
    assert not FormKey.objects.exists()


@pytest.mark.parametrize(
    ("name", "status", "sentence"),
    [
        ("page", 422, "the form again"),
        ("refused", 409, "The shelf is full."),
        ("full", 503, "Not saved: the database could not take it just now"),
    ],
)
def test_a_post_that_did_not_act_leaves_nothing_and_its_key_works_later(
    signed_in: Client, form_key: Callable[[], str], name: str, status: int, sentence: str
) -> None:
    key = form_key()
    answer = send(signed_in, key, name=name)
    assert answer.status_code == status
    assert sentence in answer.text
    assert not Group.objects.exists()
    assert not FormKey.objects.exists()
    assert send(signed_in, key).status_code == 302
    assert Group.objects.count() == 1


def test_a_fault_takes_everything_back(signed_in: Client, form_key: Callable[[], str]) -> None:
    with pytest.raises(ZeroDivisionError):
        send(signed_in, form_key(), name="broken")
    assert not Group.objects.exists()
    assert not FormKey.objects.exists()


def test_htmx_gets_the_sentence_alone_in_its_place(
    signed_in: Client, form_key: Callable[[], str]
) -> None:
    answer = signed_in.post(
        "/tests/plain/",
        {"form_key": form_key(), "name": "refused"},
        headers={"HX-Request": "true"},
    )
    assert answer.status_code == 409
    assert answer.headers["HX-Retarget"] == "#said"
    assert answer.text.strip() == '<p class="refusal" role="alert">The shelf is full.</p>'


@pytest.mark.parametrize(
    ("referer", "back"),
    [
        ("http://testserver/tests/form/", "/tests/form/"),
        ("http://evil.example/trap/", "/"),
        ("javascript:alert(1)", "/"),
        ("", "/"),
    ],
)
def test_the_way_back_stays_in_this_studio(
    signed_in: Client, form_key: Callable[[], str], referer: str, back: str
) -> None:
    answer = signed_in.post(
        "/tests/plain/",
        {"form_key": form_key(), "name": "refused"},
        headers={"Referer": referer},
    )
    assert f'<a class="btn btn-main" href="{back}">Back</a>' in answer.text


def test_a_page_is_shown_without_a_key(signed_in: Client) -> None:
    assert signed_in.get("/tests/plain/").text == "a form"
    assert not FormKey.objects.exists()


def test_long_work_is_not_done_again_for_a_form_that_acted(
    signed_in: Client, form_key: Callable[[], str]
) -> None:
    key = form_key()
    for _ in range(2):
        answer = send(signed_in, key, path="/tests/long/")
        assert answer.headers["Location"] == "/went/planned/"
    assert urls.runs == ["worked long"]
    assert Group.objects.count() == 1


def test_long_work_that_is_refused_saves_nothing(
    signed_in: Client, form_key: Callable[[], str]
) -> None:
    answer = send(signed_in, form_key(), name="refused", path="/tests/long/")
    assert answer.status_code == 409
    assert "The plan is from yesterday." in answer.text
    assert not Group.objects.exists()
    assert send(signed_in, "garbled", path="/tests/long/").status_code == 400


@pytest.mark.django_db(transaction=True)
def test_two_posts_at_once_act_once_and_both_learn_where_it_went(
    potter: User, form_key: Callable[[], str]
) -> None:
    key = form_key()

    def one_post(_: int) -> str:
        client = Client()
        client.force_login(potter, backend=MODEL_BACKEND)
        try:
            answer = send(client, key, name="slow")
            return f"{answer.status_code} {answer.headers.get('Location')}"
        finally:
            connection.close()

    with ThreadPoolExecutor(max_workers=4) as pool:
        answers = list(pool.map(one_post, range(4)))
    assert answers == ["302 /went/1/"] * 4
    assert urls.runs == ["slow"]
    assert Group.objects.count() == FormKey.objects.count() == 1


@pytest.mark.django_db(transaction=True)
def test_different_forms_at_once_all_act(potter: User) -> None:
    def one_post(_: int) -> int:
        client = Client()
        client.force_login(potter, backend=MODEL_BACKEND)
        try:
            return send(client, str(uuid.uuid4())).status_code
        finally:
            connection.close()

    with ThreadPoolExecutor(max_workers=4) as pool:
        answers = list(pool.map(one_post, range(12)))
    assert answers == [302] * 12
    assert Group.objects.count() == FormKey.objects.count() == 12


def test_a_refused_form_keeps_its_key_on_the_page(
    signed_in: Client, form_key: Callable[[], str]
) -> None:
    key = form_key()
    fresh = signed_in.get("/tests/form/")
    assert 'name="form_key" value="' in fresh.text
    refused = send(signed_in, key, name="bad", path="/tests/form/")
    assert f'name="form_key" value="{key}"' in refused.text


def test_what_was_done_is_said_with_its_undo(
    signed_in: Client, form_key: Callable[[], str]
) -> None:
    send(signed_in, form_key())
    page = signed_in.get("/tests/form/")
    assert '<div class="done" role="status">' in page.text
    assert "<p>Added</p>" in page.text


def test_a_race_that_only_the_database_saw_is_a_sentence_and_the_key_stays(
    signed_in: Client, form_key: Callable[[], str], caplog: pytest.LogCaptureFixture
) -> None:
    key = form_key()
    answer = send(signed_in, key, name="taken")
    assert answer.status_code == 409
    assert "somebody else wrote the same thing" in answer.content.decode()
    assert "UNIQUE constraint failed" in caplog.text
    assert not Group.objects.exists()
    assert send(signed_in, key).status_code == 302
