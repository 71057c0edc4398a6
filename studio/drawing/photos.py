"""Is this upload a photograph, and is it safely on the disk?

A phone's photograph comes turned by a note inside it, with the place where it was taken; a file
that claims to be one may hold anything. So nothing that was uploaded is kept as it came.

1. Only JPEG, PNG and WebP are opened (a GIF is refused).
2. The size is read before anything is unpacked (a 60 000 x 60 000 picture is refused unopened).
3. The picture is drawn anew: upright, in sRGB, without notes of place, time or camera.
4. Files appear whole or not at all: written aside, synced, renamed, folder synced.
5. The name is the hash of what is kept, so the same picture is kept once.
"""

from __future__ import annotations

import hashlib
import io
import os
import struct
import tempfile
from dataclasses import dataclass
from pathlib import Path

from PIL import Image, ImageCms, ImageOps, UnidentifiedImageError

MAX_BYTES = 25_000_000
MAX_PIXELS = 60_000_000
PHOTO_PX = 1600
THUMB_PX = 320
_SMALLEST_PX = 16
COMING = ".coming-"
"""What the name of a file begins with while it is written: it is no picture yet."""
_KINDS = ("JPEG", "PNG", "WEBP")  # a phone's MPO, two pictures in one, opens as JPEG

# What a broken note inside a picture makes the library raise; the picture itself may be good.
_BAD_NOTES = (
    OSError,
    ValueError,
    TypeError,
    KeyError,
    SyntaxError,
    AttributeError,
    ZeroDivisionError,
    struct.error,
    ImageCms.PyCMSError,
)


class BadPhoto(ValueError):
    """The upload is not kept; the sentence says why and what to do."""


@dataclass(frozen=True, kw_only=True, slots=True)
class KeptPhoto:
    """A photograph on the disk: its file name and size [pixels]."""

    name: str
    width_px: int
    height_px: int


def keep_photo(*, data: bytes, folder: Path) -> KeptPhoto:
    """Check, turn, strip and store an upload; its small copy lies beside it.

    Raises: BadPhoto for what is no picture, is damaged or too large; OSError when the disk fails.
    """
    upright = _opened(data)
    upright.thumbnail((PHOTO_PX, PHOTO_PX), Image.Resampling.LANCZOS)
    whole = io.BytesIO()
    upright.save(whole, "JPEG", quality=86, optimize=True, progressive=True)
    small = upright.copy()
    small.thumbnail((THUMB_PX, THUMB_PX), Image.Resampling.LANCZOS)
    thumb = io.BytesIO()
    small.save(thumb, "WEBP", quality=80)
    name = f"{hashlib.sha256(whole.getvalue()).hexdigest()}.jpg"
    folder.mkdir(parents=True, exist_ok=True)
    # The small copy first: where the photograph is, its copy is too.
    store(thumb.getvalue(), folder / thumb_name(name))
    store(whole.getvalue(), folder / name)
    _sync_folder(folder)
    return KeptPhoto(name=name, width_px=upright.width, height_px=upright.height)


def thumb_name(name: str) -> str:
    """The file name of a photograph's small copy."""
    return f"{Path(name).stem}.webp"


def _opened(data: bytes) -> Image.Image:
    """The picture upright, in sRGB, on white, with nothing but its pixels."""
    if not data:
        raise BadPhoto("The file is empty. Choose the photograph again.")
    if len(data) > MAX_BYTES:
        raise BadPhoto(
            f"The file is larger than {MAX_BYTES // 1_000_000} MB. Choose a smaller photograph."
        )
    Image.init()  # without it the library knows only the kinds met before
    try:
        with Image.open(io.BytesIO(data), formats=_KINDS) as source:
            width, height = source.size
            if width * height > MAX_PIXELS:
                raise BadPhoto(
                    f"The picture has {width * height // 1_000_000} million pixels; "
                    f"at most {MAX_PIXELS // 1_000_000} million are taken."
                )
            if min(width, height) < _SMALLEST_PX:
                raise BadPhoto(f"The picture is only {width} x {height} pixels.")
            # A large JPEG is unpacked at a half or a quarter of its size when that is enough.
            source.draft(None, (PHOTO_PX, PHOTO_PX))
            source.load()
            return _plain(_turned(source))
    except BadPhoto:
        raise
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as error:
        raise BadPhoto("The picture is far too large to open safely.") from error
    except UnidentifiedImageError as error:
        raise BadPhoto("This is not a JPEG, PNG or WebP picture.") from error
    except (OSError, ValueError, SyntaxError, struct.error, EOFError) as error:
        raise BadPhoto("The picture is damaged or cut short. Choose it again.") from error


def _turned(source: Image.Image) -> Image.Image:
    try:
        return ImageOps.exif_transpose(source) or source
    except _BAD_NOTES:
        return source.copy()  # the note that says 'turn me' cannot be read: keep as it lies


def _plain(source: Image.Image) -> Image.Image:
    """A new RGB picture; colours are brought to sRGB, so a glaze looks as it was taken."""
    profile = source.info.get("icc_profile")
    if source.mode.startswith("I;16"):
        source = source.point(lambda value: value / 256).convert("L")
    has_alpha = "A" in source.getbands() or "transparency" in source.info
    clear = source.convert("RGBA") if has_alpha else None
    flat = clear.convert("RGB") if clear is not None else source
    if isinstance(profile, bytes) and flat.mode in ("RGB", "CMYK", "L"):
        try:
            found = ImageCms.profileToProfile(
                flat,
                ImageCms.ImageCmsProfile(io.BytesIO(profile)),
                ImageCms.createProfile("sRGB"),
                outputMode="RGB",
            )
            flat = found if found is not None else flat
        except _BAD_NOTES:
            pass  # a profile that does not fit is as good as none
    out = Image.new("RGB", flat.size, "white")
    out.paste(flat.convert("RGB"), mask=clear.getchannel("A") if clear is not None else None)
    return out


def store(data: bytes, path: Path) -> None:
    """Write a file whole, readable by nobody else while it comes, or not at all."""
    handle, aside = tempfile.mkstemp(dir=path.parent, prefix=COMING)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        os.replace(aside, path)
    except BaseException:
        Path(aside).unlink(missing_ok=True)
        raise


def _sync_folder(folder: Path) -> None:
    """The new names are on the disk too; only POSIX systems can be asked for that."""
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
