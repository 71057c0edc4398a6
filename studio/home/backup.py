"""Where does a copy of the whole studio come from, and how is it put back?

Laws, each learnt from losing something in a trial:

1. A live SQLite file is copied by SQLite's own backup in one step, never by reading the file.
2. The database is copied before the photographs: a picture without a row is harmless, a row
   without a picture is not. (Photographs are never removed at once.)
3. A copy is whole or absent: it is written beside its name, flushed, then renamed.
4. Putting back checks the copy first, and moves what stood there aside, all its parts together.
"""

from __future__ import annotations

import os
import shutil
import sqlite3
import tarfile
import tempfile
from collections.abc import Collection
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from studio.drawing.photos import COMING
from studio.home.tables import Migration, of_a_newer_one

DATABASE = "wareboard.sqlite3"
PHOTOS = "photos"


class BadCopy(ValueError):
    """The copy cannot be made or used; the text says why and what to do."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Copied:
    """What a copy holds."""

    photos: int
    bytes: int


def copy_out(*, database: Path, photos: Path, to: Path) -> Copied:
    """Write database and photographs to one tar file. Raises BadCopy; leaves no half a file."""
    if to.exists():
        raise BadCopy(f"{to} is there already; name a new file.")
    if not to.parent.is_dir():
        raise BadCopy(f"The folder {to.parent} is not there; make it first.")
    half = to.with_name(to.name + ".part")
    try:
        with tempfile.TemporaryDirectory() as scratch:
            still = Path(scratch) / DATABASE
            _copy_database(database, still)
            _refuse_unsound(still)
            with _for_its_owner_alone(half) as file, tarfile.open(fileobj=file, mode="w") as tar:
                tar.add(still, arcname=DATABASE)
                pictures = _pictures(photos)
                for picture in pictures:
                    tar.add(picture, arcname=f"{PHOTOS}/{picture.name}")
        _flush(half)
        half.rename(to)
    finally:
        half.unlink(missing_ok=True)
    _flush(to.parent)
    return Copied(photos=len(pictures), bytes=to.stat().st_size)


def put_back(
    *,
    copy: Path,
    database: Path,
    photos: Path,
    aside: str,
    known: Collection[Migration] | None = None,
) -> Path | None:
    """Replace the studio by a copy; answer where the old one stands now, if there was one.

    The server must be stopped. ``known`` are the changes of tables that this Wareboard has: a copy
    of a newer one is refused. Raises BadCopy before anything is touched.
    """
    if not copy.is_file():
        raise BadCopy(f"{copy} is not a file.")
    database.parent.mkdir(parents=True, exist_ok=True)
    photos.parent.mkdir(parents=True, exist_ok=True)
    # The pictures may lie on another disk than the database, and only a rename is all or nothing.
    with tempfile.TemporaryDirectory(dir=photos.parent) as scratch:
        room = Path(scratch)
        try:
            with tarfile.open(copy) as tar:
                tar.extractall(room, filter="data")
        except (tarfile.TarError, EOFError) as problem:
            raise BadCopy(f"{copy} is not a copy of a studio, or only a part of one.") from problem
        except OSError as problem:
            raise BadCopy(
                f"{copy} could not be unpacked ({problem.strerror}). Nothing was changed."
            ) from problem
        if not (room / DATABASE).is_file():
            raise BadCopy(f"{copy} holds no {DATABASE}, so it is not a copy of a studio.")
        _refuse_unsound(room / DATABASE)
        if known is not None:
            _refuse_newer(room / DATABASE, known)
        staged = _staged(room / DATABASE, database)
        old = _move_aside(database=database, photos=photos, aside=aside)
        staged.rename(database)
        if (room / PHOTOS).is_dir():
            (room / PHOTOS).rename(photos)
    _flush(database.parent)
    return old


def _pictures(photos: Path) -> list[Path]:
    """The pictures there, without one that is being written: it may be gone when it is copied."""
    found = sorted(photos.iterdir()) if photos.is_dir() else []
    return [path for path in found if not path.name.startswith(COMING)]


def _move_aside(*, database: Path, photos: Path, aside: str) -> Path | None:
    parts = [database, *(database.with_name(database.name + end) for end in ("-wal", "-shm"))]
    present = [part for part in (*parts, photos) if part.exists()]
    if not present:
        return None
    folder = database.parent / aside
    folder.mkdir()
    for part in present:
        shutil.move(part, folder / part.name)
    return folder


def _copy_database(source: Path, to: Path) -> None:
    if not source.is_file():
        raise BadCopy(f"There is no database at {source}.")
    reading = sqlite3.connect(f"file:{source}?mode=ro", uri=True)
    writing = sqlite3.connect(to)
    try:
        reading.backup(writing)
    finally:
        reading.close()
        writing.close()


def _refuse_unsound(database: Path) -> None:
    check = sqlite3.connect(database)
    try:
        found = check.execute("PRAGMA integrity_check").fetchall()
        applied = check.execute("SELECT count(*) FROM django_migrations").fetchone()[0]
    except sqlite3.DatabaseError as problem:
        raise BadCopy(f"The database is damaged or not ours: {problem}.") from problem
    finally:
        check.close()
    if found != [("ok",)] or not applied:
        raise BadCopy(f"The database is damaged: {found[0][0]}.")


def _refuse_newer(database: Path, known: Collection[Migration]) -> None:
    check = sqlite3.connect(database)
    try:
        applied = check.execute("SELECT app, name FROM django_migrations").fetchall()
    finally:
        check.close()
    if said := of_a_newer_one(applied=applied, known=known):
        raise BadCopy(f"This copy cannot be used here. {said}")


def _staged(source: Path, database: Path) -> Path:
    """Put a database beside the one it will replace, where a rename is enough."""
    staged = database.with_name(database.name + ".new")
    try:
        shutil.copyfile(source, staged)
    except OSError as problem:
        staged.unlink(missing_ok=True)
        raise BadCopy(
            f"The database could not be put beside {database} ({problem.strerror}). "
            "Nothing was changed."
        ) from problem
    staged.chmod(0o600)
    _flush(staged)
    return staged


def _for_its_owner_alone(path: Path) -> BinaryIO:
    """Open a new file that nobody else may read: it holds addresses and password hashes."""
    return os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "wb")


def _flush(path: Path) -> None:
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
