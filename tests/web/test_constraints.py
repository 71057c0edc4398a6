"""Does the database itself refuse a second studio and a change that says nothing?"""

from __future__ import annotations

import uuid
from collections.abc import Callable
from typing import Any

import pytest
from django.apps import apps
from django.contrib.auth.models import User
from django.db import IntegrityError, connection, transaction
from django.db.models import F
from django.utils import timezone

from studio.web.models import Change, FormKey, Studio

pytestmark = pytest.mark.django_db
Write = Callable[[User], Any]


def change(by: User, **values: Any) -> Change:
    own = {"room": "wares", "action": "x", "said": "Did it", "by": by, "at": timezone.now()}
    return Change.objects.create(**own | values)


def undone_twice(by: User) -> None:
    first = change(by)
    for _ in range(2):
        change(by, undoes=first)


def same_key(by: User) -> None:
    key = uuid.uuid4()
    for _ in range(2):
        FormKey.objects.create(key=key, by=by, path="/")


MUST_FAIL: dict[str, Write] = {
    "studio_is_one": lambda by: Studio.objects.create(id=2),
    "studio_named": lambda by: Studio.objects.create(id=1, name=""),
    "studio_units_known heat": lambda by: Studio.objects.create(id=1, temperature_unit="K"),
    "studio_units_known length": lambda by: Studio.objects.create(id=1, length_unit="ft"),
    "studio_paper_known": lambda by: Studio.objects.create(id=1, paper="A3"),
    "studio_currency_is_a_code none": lambda by: Studio.objects.create(id=1, currency=""),
    "studio_currency_is_a_code small": lambda by: Studio.objects.create(id=1, currency="gbp"),
    "change_says_what": lambda by: change(by, said=""),
    "change_not_its_own_undo": lambda by: Change.objects.filter(id=change(by).id).update(
        undoes=F("id")
    ),
    "change undoes": undone_twice,
    "formkey key": same_key,
}


@pytest.mark.parametrize("case", list(MUST_FAIL))
def test_the_database_refuses(potter: User, case: str) -> None:
    with pytest.raises(IntegrityError) as refused, transaction.atomic():
        MUST_FAIL[case](potter)
    words = str(refused.value)
    if not (connection.vendor == "sqlite" and "UNIQUE" in words):
        assert case.split(" ")[0] in words


def test_every_constraint_of_web_is_tried() -> None:
    tried = {case.split(" ")[0] for case in MUST_FAIL}
    models = apps.get_app_config("web").get_models()
    ours = {constraint.name for model in models for constraint in model._meta.constraints}
    assert len(ours) >= 5
    assert ours <= tried


def test_what_must_be_possible_is(potter: User) -> None:
    """Otherwise a check that refuses everything would pass the tests above."""
    Studio.objects.update_or_create(id=1, defaults={"temperature_unit": "F", "length_unit": "in"})
    change(potter, undoes=change(potter))
    FormKey.objects.create(key=uuid.uuid4(), by=potter, path="/")
