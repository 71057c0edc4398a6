"""Are numbers shown and read in the units this studio chose?"""

import datetime

import pytest
from django import forms
from django.template import engines

from studio.web.fields import LengthField, MoneyField, TemperatureField
from studio.web.models import Studio
from studio.web.selectors import one_studio_a_request, the_studio


def shown(text: str, **context: object) -> str:
    return engines["django"].from_string(text).render(context)


@pytest.fixture
def in_fahrenheit(db: None) -> Studio:
    return Studio.objects.create(
        id=1, name="S", currency="USD", temperature_unit="F", length_unit="in"
    )


@pytest.mark.django_db
def test_without_a_saved_studio_the_units_are_metric_and_pounds() -> None:
    assert shown("{{ 1222|temp }}, {{ 95|mm }}, {{ 2450|money }}") == "1222 °C, 95 mm, £24.50"


def test_a_studio_may_read_fahrenheit_inches_and_dollars(in_fahrenheit: Studio) -> None:
    # 1222 x 9 / 5 + 32 = 2231.6; 95.25 / 25.4 = 3.75
    assert shown("{{ 1222|temp }}, {{ x|mm }}, {{ 2450|money }}", x=95.25) == (
        "2232 °F, 3 3/4 in, $24.50"
    )


@pytest.mark.django_db
def test_what_is_not_known_is_shown_as_nothing() -> None:
    assert shown("[{{ x|temp }}{{ x|mm }}{{ x|money }}{{ x|shortdate }}]", x=None) == "[]"
    assert shown("[{{ gone|temp }}{{ gone|mm }}{{ gone|money }}]") == "[]"


@pytest.mark.parametrize(("count", "words"), [(0, "0 mugs"), (1, "1 mug"), (24, "24 mugs")])
def test_a_count_has_its_word(count: int, words: str) -> None:
    assert shown('{{ n|plural:"mug,mugs" }}', n=count) == words


def test_a_date_is_shown_as_people_write_it() -> None:
    this_year = datetime.date.today().year  # noqa: DTZ011
    day = datetime.date(this_year, 3, 7)
    assert shown("{{ d|shortdate }}", d=day) == f"{day:%a} 7 Mar"
    # 29 February 2024 was a Thursday.
    assert shown("{{ d|shortdate }}", d=datetime.date(2024, 2, 29)) == "Thu 29 Feb 2024"


def test_a_moment_is_shown_on_the_studios_own_day() -> None:
    # 23:30 in Greenwich on 30 June is already 1 July in a London summer.
    late = datetime.datetime(2024, 6, 30, 23, 30, tzinfo=datetime.UTC)
    assert shown("{{ d|shortdate }}", d=late) == "Mon 1 Jul 2024"


def test_a_photo_has_a_small_copy() -> None:
    assert shown("{{ n|thumb }}", n="ab12.jpg") == "ab12.webp"


class Numbers(forms.Form):
    peak_c = TemperatureField(label="Peak")
    high_mm = LengthField(label="Height", required=False)
    price_pence = MoneyField(label="Price", required=False)


@pytest.mark.django_db
def test_typed_numbers_become_metric_and_pence() -> None:
    form = Numbers({"peak_c": "2232 F", "high_mm": "9.5 cm", "price_pence": "£24.50"})
    assert form.is_valid(), form.errors
    assert form.cleaned_data["peak_c"] == pytest.approx((2232 - 32) * 5 / 9)
    assert form.cleaned_data["high_mm"] == pytest.approx(95)
    assert form.cleaned_data["price_pence"] == 2450


def test_bare_numbers_are_in_the_studios_unit_and_come_back_so(in_fahrenheit: Studio) -> None:
    form = Numbers({"peak_c": "212", "high_mm": "1", "price_pence": "3"})
    assert form.is_valid(), form.errors
    assert form.cleaned_data == {"peak_c": 100.0, "high_mm": 25.4, "price_pence": 300}
    again = Numbers(initial=form.cleaned_data)
    assert [field.value() for field in again] == ["212", "1", "3.00"]


@pytest.mark.django_db
def test_what_may_be_empty_is_none() -> None:
    form = Numbers({"peak_c": "1222"})
    assert form.is_valid()
    assert form.cleaned_data == {"peak_c": 1222.0, "high_mm": None, "price_pence": None}


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("name", "typed"),
    [("peak_c", "hot"), ("peak_c", "9000"), ("high_mm", "tall"), ("price_pence", "-3")],
)
def test_a_number_that_cannot_be_is_refused_beside_its_field(name: str, typed: str) -> None:
    form = Numbers({"peak_c": "1222", name: typed})
    assert list(form.errors) == [name]
    assert form[name].value() == typed  # what was typed stays


def test_a_page_asks_for_the_studio_once(
    in_fahrenheit: Studio, django_assert_num_queries: object
) -> None:
    with django_assert_num_queries(1), one_studio_a_request():  # type: ignore[operator]
        assert {the_studio().pk for _ in range(5)} == {1}


@pytest.mark.django_db
def test_a_field_ties_its_help_and_its_error_to_its_control() -> None:
    class One(forms.Form):
        count = forms.IntegerField(label="Count", help_text="At most 24.")

    text = shown('{% include "web/field.html" with field=form.count %}', form=One({"count": "x"}))
    assert 'aria-describedby="id_count-help id_count-error"' in text
    assert 'aria-invalid="true"' in text
    assert '<p class="field-error" id="id_count-error">Enter a whole number.</p>' in text


@pytest.mark.django_db
def test_a_date_field_is_filled_as_the_browser_takes_it() -> None:
    class Two(forms.Form):
        day = forms.DateField(widget=forms.DateInput(attrs={"type": "date"}))
        at = forms.DateTimeField(widget=forms.DateTimeInput(attrs={"type": "datetime-local"}))

    moment = datetime.datetime(2026, 3, 22, 14, 5)  # noqa: DTZ001
    form = Two(initial={"day": datetime.date(2026, 3, 22), "at": moment})
    assert 'value="2026-03-22"' in str(form["day"])
    assert 'value="2026-03-22T14:05"' in str(form["at"])
    assert Two({"day": "22/03/2026", "at": "2026-03-22T14:05"}).is_valid()
    assert shown("{{ d|date }}", d=moment) == "22 Mar 2026"
