"""Does a copy hold everything, and does putting it back lose nothing?"""

from __future__ import annotations

import errno
import shutil
import sqlite3
import tarfile
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command
from django.db import connection

from studio.drawing.photos import COMING
from studio.home.backup import DATABASE, BadCopy, copy_out, put_back


@pytest.fixture
def studio(tmp_path: Path) -> tuple[Path, Path]:
    """A small database in WAL with a row not yet checkpointed, and two pictures."""
    database, photos = tmp_path / "data" / DATABASE, tmp_path / "data" / "photos"
    photos.mkdir(parents=True)
    (photos / "a.jpg").write_bytes(b"one")
    (photos / "b.jpg").write_bytes(b"two")
    opened = sqlite3.connect(database)
    opened.execute("PRAGMA journal_mode=WAL")
    opened.execute("CREATE TABLE django_migrations (id)")
    opened.execute("INSERT INTO django_migrations VALUES (1)")
    opened.execute("CREATE TABLE pots (name)")
    opened.commit()
    opened.close()
    return database, photos


def pots(database: Path) -> list[str]:
    """Answer what the database holds."""
    opened = sqlite3.connect(database)
    try:
        return [row[0] for row in opened.execute("SELECT name FROM pots ORDER BY name")]
    finally:
        opened.close()


def add_pot(database: Path, name: str) -> None:
    """Add one pot."""
    opened = sqlite3.connect(database)
    opened.execute("INSERT INTO pots VALUES (?)", [name])
    opened.commit()
    opened.close()


def test_a_copy_taken_beside_an_open_writer_holds_what_was_committed(
    studio: tuple[Path, Path], tmp_path: Path
) -> None:
    database, photos = studio
    writer = sqlite3.connect(database)
    writer.execute("INSERT INTO pots VALUES ('mug')")
    writer.commit()  # still in the write-ahead file: reading the database file alone would miss it
    copied = copy_out(database=database, photos=photos, to=tmp_path / "copy.tar")
    writer.close()
    assert copied.photos == 2
    assert (tmp_path / "copy.tar").stat().st_mode & 0o077 == 0  # it holds people's addresses
    put_back(
        copy=tmp_path / "copy.tar",
        database=tmp_path / "new" / DATABASE,
        photos=tmp_path / "new" / "photos",
        aside="old",
    )
    assert pots(tmp_path / "new" / DATABASE) == ["mug"]
    assert (tmp_path / "new" / "photos" / "b.jpg").read_bytes() == b"two"


def test_a_picture_that_is_on_its_way_in_is_no_part_of_a_copy(
    studio: tuple[Path, Path], tmp_path: Path
) -> None:
    database, photos = studio
    (photos / f"{COMING}x1").write_bytes(b"half a picture, gone a moment later")
    copied = copy_out(database=database, photos=photos, to=tmp_path / "copy.tar")
    assert copied.photos == 2
    with tarfile.open(tmp_path / "copy.tar") as tar:
        assert tar.getnames() == [DATABASE, "photos/a.jpg", "photos/b.jpg"]


def test_what_stood_there_is_moved_aside_whole(studio: tuple[Path, Path], tmp_path: Path) -> None:
    database, photos = studio
    copy_out(database=database, photos=photos, to=tmp_path / "copy.tar")
    add_pot(database, "bowl")
    old = put_back(copy=tmp_path / "copy.tar", database=database, photos=photos, aside="old")
    assert old is not None
    assert pots(database) == []
    assert pots(old / DATABASE) == ["bowl"]
    assert (old / "photos" / "a.jpg").exists()


def test_a_copy_never_overwrites(studio: tuple[Path, Path], tmp_path: Path) -> None:
    database, photos = studio
    (tmp_path / "copy.tar").write_text("precious")
    with pytest.raises(BadCopy, match="is there already"):
        copy_out(database=database, photos=photos, to=tmp_path / "copy.tar")
    assert (tmp_path / "copy.tar").read_text() == "precious"


def test_a_missing_folder_is_said(studio: tuple[Path, Path], tmp_path: Path) -> None:
    database, photos = studio
    with pytest.raises(BadCopy, match="is not there; make it first"):
        copy_out(database=database, photos=photos, to=tmp_path / "no" / "copy.tar")


def test_no_database_leaves_no_half_a_copy(tmp_path: Path) -> None:
    with pytest.raises(BadCopy, match="There is no database"):
        copy_out(database=tmp_path / "x", photos=tmp_path / "p", to=tmp_path / "copy.tar")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("content", "sentence"),
    [(b"not a tar", "is not a copy of a studio"), (None, "is not a file")],
)
def test_a_wrong_file_is_refused_before_anything_moves(
    studio: tuple[Path, Path], tmp_path: Path, content: bytes | None, sentence: str
) -> None:
    database, photos = studio
    copy = tmp_path / "copy.tar"
    if content is not None:
        copy.write_bytes(content)
    with pytest.raises(BadCopy, match=sentence):
        put_back(copy=copy, database=database, photos=photos, aside="old")
    assert pots(database) == []
    assert (photos / "a.jpg").exists()


def test_a_damaged_copy_is_refused_before_anything_moves(
    studio: tuple[Path, Path], tmp_path: Path
) -> None:
    database, photos = studio
    bad = tmp_path / DATABASE
    bad.write_bytes(b"SQLite format 3\x00" + b"\x07" * 4000)
    with tarfile.open(tmp_path / "copy.tar", "w") as tar:
        tar.add(bad, arcname=DATABASE)
    with pytest.raises(BadCopy, match="damaged"):
        put_back(copy=tmp_path / "copy.tar", database=database, photos=photos, aside="old")
    assert pots(database) == []


def test_a_damaged_studio_is_not_copied(studio: tuple[Path, Path], tmp_path: Path) -> None:
    database, photos = studio
    with database.open("r+b") as file:
        file.seek(database.stat().st_size - 4096)
        file.write(b"\x07" * 4096)  # the last page, which holds the table of pots
    with pytest.raises(BadCopy, match="damaged"):
        copy_out(database=database, photos=photos, to=tmp_path / "copy.tar")
    assert not (tmp_path / "copy.tar").exists()


def test_what_a_killed_server_left_beside_its_database_goes_aside_too(
    studio: tuple[Path, Path], tmp_path: Path
) -> None:
    database, photos = studio
    copy_out(database=database, photos=photos, to=tmp_path / "copy.tar")
    # Read beside the copy, a log of the old database would be taken for the new one's.
    for end in ("-wal", "-shm"):
        database.with_name(database.name + end).write_bytes(b"left")
    old = put_back(copy=tmp_path / "copy.tar", database=database, photos=photos, aside="old")
    assert old is not None
    names = {f"{DATABASE}{end}" for end in ("", "-wal", "-shm")}
    assert {path.name for path in old.iterdir()} == {*names, "photos"}
    assert [path.name for path in database.parent.glob(f"{DATABASE}*")] == [DATABASE]
    assert pots(database) == []


def test_a_copy_that_fails_half_way_leaves_nothing(
    studio: tuple[Path, Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(tarfile.TarFile, "add", full)
    with pytest.raises(OSError, match="No space left"):
        copy_out(database=studio[0], photos=studio[1], to=tmp_path / "copy.tar")
    assert [path.name for path in tmp_path.iterdir()] == ["data"]


def test_a_tar_of_other_things_is_refused(studio: tuple[Path, Path], tmp_path: Path) -> None:
    database, photos = studio
    (tmp_path / "note.txt").write_text("hello")
    with tarfile.open(tmp_path / "copy.tar", "w") as tar:
        tar.add(tmp_path / "note.txt", arcname="note.txt")
    with pytest.raises(BadCopy, match=f"holds no {DATABASE}"):
        put_back(copy=tmp_path / "copy.tar", database=database, photos=photos, aside="old")


def test_a_part_of_a_copy_is_refused(studio: tuple[Path, Path], tmp_path: Path) -> None:
    database, photos = studio
    copy_out(database=database, photos=photos, to=tmp_path / "copy.tar")
    whole = (tmp_path / "copy.tar").read_bytes()
    (tmp_path / "part.tar").write_bytes(whole[: len(whole) // 3])
    with pytest.raises(BadCopy) as refused:
        put_back(copy=tmp_path / "part.tar", database=database, photos=photos, aside="old")
    assert str(refused.value).endswith("is not a copy of a studio, or only a part of one.")
    assert (photos / "a.jpg").exists()


def test_a_copy_of_a_newer_wareboard_is_refused(studio: tuple[Path, Path], tmp_path: Path) -> None:
    database, photos = studio
    opened = sqlite3.connect(database)
    opened.execute("DROP TABLE django_migrations")
    opened.execute("CREATE TABLE django_migrations (app, name)")
    rows = [("wares", "0001_initial"), ("wares", "0099_later"), ("elsewhere", "0001_gone")]
    opened.executemany("INSERT INTO django_migrations VALUES (?, ?)", rows)
    opened.commit()
    opened.close()
    copy_out(database=database, photos=photos, to=tmp_path / "copy.tar")
    add_pot(database, "bowl")
    asked = {"copy": tmp_path / "copy.tar", "database": database, "photos": photos}
    with pytest.raises(BadCopy) as refused:
        put_back(**asked, aside="old", known={("wares", "0001_initial")})
    assert str(refused.value) == (
        "This copy cannot be used here. Its tables are of a newer Wareboard, which this one does"
        " not know (wares 0099_later). Install that Wareboard first."
    )
    assert pots(database) == ["bowl"]
    # A room that is no longer ours says nothing of newer tables.
    put_back(**asked, aside="old", known={("wares", "0001_initial"), ("wares", "0099_later")})
    assert pots(database) == []


def test_no_room_to_put_a_copy_back_leaves_all_as_it_was(
    studio: tuple[Path, Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    database, photos = studio
    copy_out(database=database, photos=photos, to=tmp_path / "copy.tar")
    add_pot(database, "bowl")

    def full(_: object, to: Path) -> None:
        to.write_bytes(b"half")
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(shutil, "copyfile", full)
    with pytest.raises(BadCopy, match=r"No space left on device.*Nothing was changed"):
        put_back(copy=tmp_path / "copy.tar", database=database, photos=photos, aside="old")
    assert pots(database) == ["bowl"]
    assert sorted(path.name for path in database.parent.iterdir()) == [
        "photos", DATABASE
    ]  # fmt: skip


def test_restore_asks_for_a_stopped_server(tmp_path: Path) -> None:
    expected = "use pg_restore" if connection.vendor != "sqlite" else "Stop the server"
    with pytest.raises(CommandError, match=expected):
        call_command("restore", str(tmp_path / "copy.tar"))


def test_a_full_disk_is_said_in_a_sentence(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(**_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("studio.home.management.commands.backup.copy_out", full)
    expected = "pg_dump" if connection.vendor != "sqlite" else "could not be written .No space left"
    with pytest.raises(CommandError, match=expected):
        call_command("backup", str(tmp_path / "copy.tar"))
