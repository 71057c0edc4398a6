"""Does a wrong setting stop the start with a sentence that says what to do?"""

import os
import stat
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]


def start(folder: Path, **environment: str) -> subprocess.CompletedProcess[str]:
    """Load the settings in a process of their own, with ``folder`` for the data."""
    clean = {
        name: value
        for name, value in os.environ.items()
        if not name.startswith("WAREBOARD_") and name != "DATABASE_URL"
    }
    code = (
        "import django; django.setup();"
        "from django.conf import settings as s;"
        "print(s.SECRET_KEY, s.DATABASES['default']['NAME'], s.DEBUG, s.SESSION_COOKIE_SECURE);"
        "print(s.CSRF_COOKIE_SECURE, s.SECURE_HSTS_SECONDS, s.CSRF_TRUSTED_ORIGINS)"
    )
    return subprocess.run(
        [sys.executable, "-c", code],
        cwd=ROOT,
        env={
            **clean,
            "DJANGO_SETTINGS_MODULE": "studio.settings",
            "WAREBOARD_DATA": str(folder),
            **environment,
        },
        capture_output=True,
        text=True,
        check=False,
    )


def test_with_nothing_set_it_starts_and_makes_one_key_for_its_owner(tmp_path: Path) -> None:
    folder = tmp_path / "a studio's data"
    first = start(folder)
    assert first.returncode == 0, first.stderr
    assert first.stdout.split()[0] == (folder / "secret.key").read_text()
    assert f"{folder / 'wareboard.sqlite3'} False False\nFalse 0 []" in first.stdout
    assert stat.S_IMODE((folder / "secret.key").stat().st_mode) == 0o600
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700
    assert start(folder).stdout == first.stdout
    assert sorted(path.name for path in folder.iterdir()) == ["secret.key"]


def test_two_first_starts_at_once_end_with_one_key(tmp_path: Path) -> None:
    code = "from studio import settings; print(settings.SECRET_KEY)"
    environment = {**os.environ, "WAREBOARD_DATA": str(tmp_path)}
    started = [
        subprocess.Popen(
            [sys.executable, "-c", code],
            cwd=ROOT,
            env=environment,
            stdout=subprocess.PIPE,
            text=True,
        )
        for _ in range(4)
    ]
    keys = {process.communicate()[0] for process in started}
    assert len(keys) == 1
    assert len(keys.pop().strip()) >= 32


@pytest.mark.parametrize(
    ("name", "value", "sentence"),
    [
        (
            "WAREBOARD_ALOWED_HOSTS",
            "studio.example",
            "WAREBOARD_ALOWED_HOSTS is not a setting of Wareboard. "
            "Did you mean WAREBOARD_ALLOWED_HOSTS?",
        ),
        ("WAREBOARD_KILN", "1", "WAREBOARD_KILN is not a setting of Wareboard."),
        ("WAREBOARD_DEBUG", "yes", "WAREBOARD_DEBUG must be 1 or 0, not 'yes'."),
        ("WAREBOARD_HTTPS", "", "WAREBOARD_HTTPS must be 1 or 0, not ''."),
        ("WAREBOARD_SECRET_KEY", "", "has 0 characters; it needs 32 or more"),
        ("WAREBOARD_SECRET_KEY", "short", "has 5 characters; it needs 32 or more"),
        ("WAREBOARD_TIME_ZONE", "Europe/Atlantis", "'Europe/Atlantis' is no time zone"),
        ("WAREBOARD_TIME_ZONE", "../../etc/passwd", "is no time zone"),
        ("WAREBOARD_TIME_ZONE", "Europe", "'Europe' is no time zone"),
        ("WAREBOARD_TIME_ZONE", "", "'' is no time zone"),
        ("WAREBOARD_ALLOWED_HOSTS", "*", "* would let any site pose as this one"),
        ("DATABASE_URL", "nonsense", "DATABASE_URL is not understood. Use sqlite:////"),
        ("DATABASE_URL", "mysql://a/b", "DATABASE_URL names neither SQLite nor PostgreSQL."),
        ("DATABASE_URL", "sqlite://:memory:", "DATABASE_URL names no database that is kept."),
        ("DATABASE_URL", "postgres://", "DATABASE_URL names no database that is kept."),
        ("DATABASE_URL", "sqlite:////no/such/place/a.sqlite3", "in /no/such/place, which is no"),
    ],
)
def test_a_wrong_setting_is_refused(tmp_path: Path, name: str, value: str, sentence: str) -> None:
    tried = start(tmp_path, **{name: value})
    assert tried.returncode != 0
    last = tried.stderr.strip().splitlines()[-1]
    assert last.startswith("django.core.exceptions.ImproperlyConfigured: ")
    assert sentence in last


def test_a_key_file_that_was_cut_short_is_refused(tmp_path: Path) -> None:
    (tmp_path / "secret.key").write_text("cut")
    tried = start(tmp_path)
    assert tried.returncode != 0
    assert "is too short. Delete the file and a new one is made" in tried.stderr


def test_a_data_folder_that_cannot_be_made_is_refused(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    tried = start(tmp_path / "file" / "data")
    assert tried.returncode != 0
    assert "Set WAREBOARD_DATA to a folder that can be written." in tried.stderr


def test_behind_a_certificate_cookies_are_for_https_alone(tmp_path: Path) -> None:
    set_to = {"WAREBOARD_HTTPS": "1", "WAREBOARD_ALLOWED_HOSTS": "studio.example"}
    started = start(tmp_path, **set_to, WAREBOARD_SECRET_KEY="k" * 40)
    first, second = started.stdout.splitlines()
    assert first.split()[0] == "k" * 40
    assert first.split()[-1] == "True"
    assert second.startswith(f"True {30 * 24 * 60 * 60} ")  # browsers remember it for thirty days
    assert "'https://studio.example'" in second
