"""A phone's browser, signed in to a studio that really serves."""

import pytest
from django.conf import settings
from django.contrib.auth.models import User
from django.test import Client
from playwright.sync_api import Page
from pytest_django.live_server_helper import LiveServer

from tests.conftest import MODEL_BACKEND


@pytest.fixture
def signed_in_page(
    transactional_db: None, live_server: LiveServer, page: Page, potter: User
) -> Page:
    """A page whose cookies are those of ``potter``; ``page.goto(live_server.url + ...)``."""
    client = Client()
    client.force_login(potter, backend=MODEL_BACKEND)
    name = settings.SESSION_COOKIE_NAME
    page.context.add_cookies(
        [{"name": name, "value": client.cookies[name].value, "url": live_server.url}]
    )
    page.set_default_timeout(15_000)
    return page
