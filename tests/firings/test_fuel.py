"""Does a gas or wood firing cost what it burnt, by the unit in which the studio buys it?"""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse

from studio.firings import services
from studio.firings.models import Firing, FuelPrice, Kiln, Run
from studio.firings.services.opening import reckon
from studio.home.services import undo
from studio.web.models import Change
from tests.firings.conftest import NOW, World

Key = Callable[[], str]
Refused = Callable[..., str]


@pytest.fixture
def gas(world: World) -> Kiln:
    """The big kiln, fired with gas by the kg at 2.10."""
    world.big.fuel = "gas"
    world.big.save()
    services.set_fuel_price(fuel="gas", unit="kg", price_hundredths=21_000, by=world.by, at=NOW)
    return world.big


def cooling(world: World) -> Firing:
    firing = world.planned()
    world.load(firing, world.glazed(5))
    world.lit(firing, hours_ago=40)
    services.switch_off(firing=firing, off_at=NOW - timedelta(hours=28), by=world.by, at=NOW)
    return firing


def opened(world: World, *, kg: float | None = None) -> Firing:
    firing = cooling(world)
    used = None if kg is None else round(kg * 1000)
    services.open_kiln(
        firing=firing, opened_at=NOW, is_cool=True, by=world.by, at=NOW,
        energy=services.Energy(fuel_thousandths=used),
    )  # fmt: skip
    firing.refresh_from_db()
    return firing


def reckoned(world: World) -> Firing:
    """What an opening without a measure would write."""
    firing = world.planned()
    reckon(firing, services.Energy())
    return firing


def usual(world: World, **fuel: int | None) -> None:
    services.save_run(
        kiln=world.big, schedule=world.six, busy_days=2, cost_pence=1300, by=world.by, at=NOW,
        **fuel,
    )  # fmt: skip


def test_what_was_measured_is_paid_by_the_unit(world: World, gas: Kiln) -> None:
    firing = opened(world, kg=8.25)
    # 8.25 kg at 210 pence are 1732.5, halves up.
    assert (firing.cost_pence, firing.cost_from) == (1733, "meter")
    assert (firing.fuel_used, firing.fuel_unit) == (8.25, "kg")
    undo(change=Change.objects.get(action="open_kiln", subject_id=firing.pk), by=world.by, at=NOW)
    firing.refresh_from_db()
    assert (firing.fuel_thousandths, firing.fuel_unit, firing.cost_pence) == (None, "", None)


def test_what_is_usual_is_an_estimate_in_its_own_unit_only(world: World, gas: Kiln) -> None:
    usual(world, fuel_thousandths=8000)
    assert opened(world).cost_pence == 8 * 210
    assert Firing.objects.get(cost_from="estimate").fuel_thousandths is None
    # Another unit: 8 kg are no 8 bottles, so the run's own cost counts until it is said anew.
    services.set_fuel_price(
        fuel="gas", unit="bottle", price_hundredths=900_000, by=world.by, at=NOW
    )
    second = reckoned(world)
    assert (second.cost_pence, second.cost_from) == (1300, "usual")


def test_wood_has_its_usual_cost_until_it_has_a_price(world: World) -> None:
    world.big.fuel = "wood"
    world.big.save()
    first = reckoned(world)
    assert (first.cost_pence, first.cost_from) == (1300, "usual")
    services.set_fuel_price(fuel="wood", unit="m3", price_hundredths=600_000, by=world.by, at=NOW)
    second = opened(world, kg=0.5)
    # Half a cubic metre at 60.00.
    assert second.cost_pence == 3000


def test_the_page_asks_for_gas_and_not_for_kwh(
    world: World, gas: Kiln, signed_in: Client, form_key: Key
) -> None:
    firing = cooling(world)
    url = reverse("firings:open", args=[firing.pk])
    page = signed_in.get(url).content.decode()
    assert "Gas used, kg" in page
    assert "Meter before, kWh" not in page
    answer = signed_in.post(url, {"form_key": form_key(), "fuel_used": "8.5", "is_cool": "on"})
    assert answer.status_code == 302
    firing.refresh_from_db()
    # 8.5 x 210.
    assert firing.cost_pence == 1785
    page = signed_in.get(reverse("firings:firing", args=[firing.pk])).content.decode()
    assert "8.5 kg" in page
    assert "metered, by the tariff" in page


def test_the_run_says_what_is_usual(
    world: World, gas: Kiln, signed_in: Client, form_key: Key
) -> None:
    url = reverse("firings:run", args=[gas.pk])
    assert "Gas, kg" in signed_in.get(url).content.decode()
    typed = {
        "schedule": world.six.pk, "busy_days": "2", "fuel_used": "7.5", "cost_pence": "13.00",
    }  # fmt: skip
    signed_in.post(url, {"form_key": form_key(), **typed})
    run = Run.objects.get(kiln=gas, schedule=world.six)
    assert (run.fuel_thousandths, run.fuel_unit, run.energy_wh) == (7500, "kg", None)
    kept = signed_in.get(f"{url}?schedule={world.six.pk}").content.decode()
    assert 'value="7.5"' in kept


def test_a_price_is_kept_said_and_put_back(world: World, signed_in: Client, form_key: Key) -> None:
    url = reverse("firings:fuel-price", args=["gas"])
    answer = signed_in.post(
        url, {"form_key": form_key(), "unit": "m3", "price": "74.5"}, follow=True
    )
    page = answer.content.decode()
    assert "gas: 74.50 of the smallest coin for one m³" in page.lower()
    change = Change.objects.get(action="save_fuel_price")
    undo(change=change, by=world.by, at=NOW)
    assert not FuelPrice.objects.exists()
    for wrong, says in (
        ({"unit": "ton", "price": "5"}, "Select a valid choice."),
        ({"unit": "kg", "price": "0"}, "greater than or equal to 0.01"),
        ({"unit": "kg", "price": "dear"}, "Enter a number."),
    ):
        answer = signed_in.post(url, {"form_key": form_key(), **wrong})
        assert answer.status_code == 422
        assert says in answer.content.decode()
    assert signed_in.get(reverse("firings:fuel-price", args=["coal"])).status_code == 404


def test_what_cannot_be_measured(world: World, refused: Refused) -> None:
    who = {"by": world.by, "at": NOW}
    price = {"unit": "kg", **who}
    assert "Electricity has its tariff" in refused(
        services.set_fuel_price, fuel="electric", price_hundredths=5, **price
    )
    for wrong in (0, 10_000_001):
        assert "more than 0" in refused(
            services.set_fuel_price, fuel="gas", price_hundredths=wrong, **price
        )
    asked = {"kiln": world.big, "schedule": world.six, "busy_days": 2, "cost_pence": 1300}
    assert refused(services.save_run, **asked, fuel_thousandths=5, **who) == (
        "An electric kiln uses no gas or wood. Write its kWh."
    )
    world.big.fuel = "gas"
    world.big.save()
    assert refused(services.save_run, **asked, fuel_thousandths=5, **who) == (
        "Say first in which unit gas is bought and what it costs: on the tariff page."
    )
    firing = cooling(world)
    assert "Say first in which unit gas" in refused(
        services.open_kiln, firing=firing, opened_at=NOW, is_cool=True,
        energy=services.Energy(fuel_thousandths=5), **who,
    )  # fmt: skip


def test_a_change_of_price_that_comes_too_late_to_undo(
    world: World, gas: Kiln, refused: Refused
) -> None:
    first = Change.objects.get(action="save_fuel_price")
    services.set_fuel_price(fuel="gas", unit="kg", price_hundredths=5, by=world.by, at=NOW)
    assert "was changed since" in refused(undo, change=first, by=world.by, at=NOW)
    undo(change=Change.objects.filter(action="save_fuel_price").order_by("-pk")[0], by=world.by,
         at=NOW)  # fmt: skip
    assert FuelPrice.objects.get().price_hundredths == 21_000


@pytest.mark.parametrize(
    "write",
    [
        lambda w: FuelPrice.objects.create(fuel="electric", unit="kwh", price_hundredths=5),
        lambda w: FuelPrice.objects.create(fuel="gas", unit="ton", price_hundredths=5),
        lambda w: FuelPrice.objects.create(fuel="gas", unit="kg", price_hundredths=0),
        lambda w: Run.objects.update(fuel_unit="kg"),
        lambda w: Run.objects.update(fuel_thousandths=5),
        lambda w: Firing.objects.filter(pk=w.planned().pk).update(fuel_thousandths=5),
        lambda w: Firing.objects.filter(pk=w.planned().pk).update(
            fuel_unit="ton", fuel_thousandths=5
        ),
    ],
)
def test_the_database_refuses(world: World, write: Callable[[World], object]) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        write(world)
