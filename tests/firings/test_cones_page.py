"""Does the chart of cones show the printed cells, and say which are from memory?"""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from studio.firings import selectors
from studio.web.models import Studio
from tests.firings.conftest import World


def test_printed_and_remembered_cells(world: World, signed_in: Client) -> None:
    page = signed_in.get(reverse("firings:cones")).content.decode()
    by_make = {chart.title: chart for chart in selectors.cone_charts()}
    own = {row.cone: row for row in by_make["Self-supporting"].rows}
    # Clayart, L. E., 7 Nov 2006 and ccg.co.nz: 6 is 1222 °C at 60 °C/h; 07 at 15 from memory.
    assert own["6"].cells[1] == (1222, False)
    remembered = own["07"].cells[0]
    assert remembered is not None
    assert remembered[1]
    assert f"≈{remembered[0]}<" in page
    assert "The Edward Orton Jr. Ceramic Foundation" in page
    assert by_make["Large"].rates == (60, 150)


@pytest.mark.parametrize("cell", ["2165", "2232", "2269"])
def test_fahrenheit_as_printed(world: World, signed_in: Client, cell: str) -> None:
    # L. E., Clayart, 7 Nov 2006: cone 6 at 27, 108 and 270 °F/h.
    Studio.objects.update_or_create(id=1, defaults={"temperature_unit": "F"})
    page = signed_in.get(reverse("firings:cones")).content.decode()
    assert "108 °F/h" in page
    assert f">{cell}<" in page
    assert "°C/h" not in page
