"""What every test may ask for: a signed-in potter, a form's key, a database file, a browser."""

import os
import uuid
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
import pytest_django
from django.contrib.auth.models import User
from django.db import connection, connections
from django.test import Client, override_settings
from hypothesis import settings as hypothesis_settings

from studio.drawing import installed_fonts

# A browser test holds an event loop while it asks the database from the same thread.
os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "true")

# How fast a busy machine is says nothing about the code: no example fails for its time.
hypothesis_settings.register_profile("house", deadline=None)
hypothesis_settings.load_profile("house")

CHROMIUM = Path("/usr/bin/chromium")
MODEL_BACKEND = "django.contrib.auth.backends.ModelBackend"


@pytest.fixture(scope="session", autouse=True)
def quick_and_apart(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Let tests hash passwords fast, keep their files away from the studio's, and ask no font of
    this computer.
    """
    installed_fonts.FOLDERS = ()
    with override_settings(
        PASSWORD_HASHERS=["django.contrib.auth.hashers.MD5PasswordHasher"],
        MEDIA_ROOT=tmp_path_factory.mktemp("photos"),
        SENT_ROOT=tmp_path_factory.mktemp("sent"),
    ):
        yield


@pytest.fixture(scope="session")
def django_db_modify_db_settings(
    django_db_modify_db_settings_parallel_suffix: None,
    tmp_path_factory: pytest.TempPathFactory,
) -> None:
    """Give every run its own SQLite file, so that two runs on one computer do not meet.

    A connection ends with its request: a server thread waits as long as its browser's line is
    open, and would hold the test database meanwhile.
    """
    settings = connections["default"].settings_dict
    settings["CONN_MAX_AGE"] = 0
    if settings["ENGINE"].endswith("sqlite3"):
        settings["TEST"]["NAME"] = str(tmp_path_factory.mktemp("database") / "test.sqlite3")


@pytest.fixture(scope="session")
def django_db_setup(
    django_db_setup: None, django_db_blocker: pytest_django.DjangoDbBlocker
) -> Iterator[None]:
    """End what a browser that leaves its line open still holds, so that the database can go."""
    yield
    if connection.vendor == "postgresql":
        with django_db_blocker.unblock(), connection.cursor() as cursor:
            cursor.execute(
                "SELECT pg_terminate_backend(pid) FROM pg_stat_activity"
                " WHERE datname = current_database() AND usename = current_user"
                " AND pid <> pg_backend_pid()"
            )


@pytest.fixture
def potter(db: None) -> User:
    """Somebody who may sign in."""
    return User.objects.create_user("ada", password="wedge the clay first")


@pytest.fixture
def other_potter(db: None) -> User:
    """Somebody else, for what two people do."""
    return User.objects.create_user("bo", password="centre it then open")


@pytest.fixture
def signed_in(potter: User) -> Client:
    """A browser without scripts, signed in as ``potter``."""
    client = Client()
    client.force_login(potter, backend=MODEL_BACKEND)
    return client


@pytest.fixture
def form_key() -> Callable[[], str]:
    """Answer a fresh form key at each call."""
    return lambda: str(uuid.uuid4())


@pytest.fixture
def photos(tmp_path: Path) -> Iterator[Path]:
    """An empty folder for photos, for this test alone."""
    with override_settings(MEDIA_ROOT=tmp_path):
        yield tmp_path


@pytest.fixture(scope="session")
def browser_type_launch_args(browser_type_launch_args: dict[str, object]) -> dict[str, object]:
    """Use the system's Chromium. Without one a run skips, but the project's own check fails."""
    if not CHROMIUM.exists():
        sentence = f"No Chromium at {CHROMIUM}: apt-get install chromium."
        if os.environ.get("CI"):
            pytest.fail(sentence)
        pytest.skip(sentence)
    quiet = [
        "--no-sandbox",
        "--disable-gpu",
        "--disable-quic",
        "--no-first-run",
        "--disable-background-networking",
        "--disable-component-update",
        "--disable-sync",
    ]
    return {**browser_type_launch_args, "executable_path": str(CHROMIUM), "args": quiet}


@pytest.fixture(scope="session")
def browser_context_args(browser_context_args: dict[str, object]) -> dict[str, object]:
    """A phone held upright."""
    phone = {"width": 390, "height": 844}
    return {**browser_context_args, "viewport": phone, "has_touch": True, "locale": "en-GB"}
