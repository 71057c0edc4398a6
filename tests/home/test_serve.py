"""Is the studio served to this computer alone unless somebody said otherwise, and knew better?"""

import os
import re
import signal
import socket
import subprocess
import sys
from pathlib import Path
from urllib.error import HTTPError
from urllib.request import Request, urlopen

import pytest
from django.core.management import CommandError, call_command
from django.db import connection
from django.db.migrations.recorder import MigrationRecorder
from django.test import override_settings

from studio.home.management.commands.serve import own_addresses, serving
from studio.home.tables import known_migrations, of_a_newer_one

ROOT = Path(__file__).resolve().parents[2]


def test_by_default_only_this_computer_is_let_in() -> None:
    chosen = serving(port=8000, phone=False)
    assert chosen["listen"] == "127.0.0.1:8000"
    assert chosen["connection_limit"] == 1000
    assert chosen["channel_timeout"] == 20
    assert "trusted_proxy" not in chosen


def test_a_phone_is_let_in_when_asked() -> None:
    assert serving(port=8001, phone=True)["listen"] == "0.0.0.0:8001"


def test_a_proxy_is_believed_only_from_this_computer() -> None:
    with override_settings(HTTPS=True):
        chosen = serving(port=8000, phone=False)
    assert chosen["trusted_proxy"] == "127.0.0.1"
    assert chosen["clear_untrusted_proxy_headers"] is True


def test_own_addresses_are_none_of_this_computer_alone() -> None:
    assert not any(name.startswith("127.") for name in own_addresses())


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (["--phone"], "start with --phone --accept-plain-http"),
        (["--accept-plain-http"], "only means something with --phone"),
        (["--port", "0"], "--port must be between 1 and 65535, not 0."),
        (["--port", "70000"], "not 70000."),
    ],
)
def test_it_refuses_what_is_unsafe_or_makes_no_sense(arguments: list[str], sentence: str) -> None:
    with pytest.raises(CommandError, match=re.escape(sentence)):
        call_command("serve", *arguments)


def environment(folder: Path) -> dict[str, str]:
    return {
        **{name: value for name, value in os.environ.items() if name != "DATABASE_URL"},
        "WAREBOARD_DATA": str(folder),
    }


def run(folder: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "manage.py", *arguments],
        cwd=ROOT,
        env=environment(folder),
        capture_output=True,
        text=True,
        check=False,
    )


def test_a_file_that_is_no_database_is_refused_in_a_sentence(tmp_path: Path) -> None:
    (tmp_path / "wareboard.sqlite3").write_text("precious words, no database " * 40)
    for command in (["serve"], ["demo", "--no-serve"]):
        tried = run(tmp_path, *command)
        assert tried.returncode == 1
        assert "Traceback" not in tried.stderr
        assert str(tmp_path / "wareboard.sqlite3") in tried.stderr
    assert (tmp_path / "wareboard.sqlite3").read_text().startswith("precious")


def test_a_wrong_setting_is_told_in_a_sentence(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("no folder")
    tried = run(tmp_path / "file", "check")
    assert tried.returncode == 1
    assert tried.stderr.startswith("The data folder")
    assert "Traceback" not in tried.stderr


def test_tables_of_a_newer_wareboard_are_not_served(db: None) -> None:
    applied = {*known_migrations(), ("wares", "0999_later")}
    said = of_a_newer_one(applied=applied, known=known_migrations())
    assert said is not None
    assert said.startswith("Its tables are of a newer Wareboard")
    MigrationRecorder(connection).record_applied("wares", "0999_later")
    with pytest.raises(CommandError, match=re.escape(said)):
        call_command("serve")


def test_a_database_without_tables_is_refused_with_the_command_to_run(tmp_path: Path) -> None:
    tried = run(tmp_path, "serve")
    assert tried.returncode == 1
    assert "Run: python manage.py migrate" in tried.stderr


def test_it_serves_this_computer_and_names_a_port_in_use(tmp_path: Path) -> None:
    assert run(tmp_path, "migrate", "--verbosity", "0").returncode == 0
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    with subprocess.Popen(
        [sys.executable, "manage.py", "serve", "--port", str(port)],
        cwd=ROOT,
        env=environment(tmp_path),
        stdout=subprocess.PIPE,
        text=True,
    ) as server:
        try:
            assert server.stdout is not None
            assert f"http://127.0.0.1:{port}/" in server.stdout.readline()
            with urlopen(f"http://127.0.0.1:{port}/sign-in/") as answer:
                page = answer.read().decode()
            assert "Sign in" in page
            with urlopen(f"http://127.0.0.1:{port}/static/wareboard.css") as answer:
                assert answer.status == 200
            second = run(tmp_path, "serve", "--port", str(port))
            assert second.returncode == 1
            assert f"Port {port} cannot be used" in second.stderr
        finally:
            server.send_signal(signal.SIGTERM)
            server.wait(timeout=30)


def test_behind_a_certificate_it_believes_the_proxy_and_marks_its_cookies(tmp_path: Path) -> None:
    assert run(tmp_path, "migrate", "--verbosity", "0").returncode == 0
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    with subprocess.Popen(
        [sys.executable, "manage.py", "serve", "--port", str(port)],
        cwd=ROOT,
        env={
            **environment(tmp_path),
            "WAREBOARD_HTTPS": "1",
            "WAREBOARD_ALLOWED_HOSTS": "studio.example",
        },
        stdout=subprocess.PIPE,
        text=True,
    ) as server:
        try:
            assert server.stdout is not None
            assert f"http://127.0.0.1:{port}/" in server.stdout.readline()
            asked = Request(
                f"http://127.0.0.1:{port}/sign-in/",
                headers={"Host": "studio.example", "X-Forwarded-Proto": "https"},
            )
            with urlopen(asked) as answer:
                assert "Secure" in answer.headers["Set-Cookie"]
                assert answer.headers["Strict-Transport-Security"] == "max-age=2592000"
            stranger = Request(f"http://127.0.0.1:{port}/", headers={"Host": "evil.example"})
            with pytest.raises(HTTPError) as refused:
                urlopen(stranger)
            refused.value.close()
            assert refused.value.code == 400
        finally:
            server.send_signal(signal.SIGTERM)
            server.wait(timeout=30)
