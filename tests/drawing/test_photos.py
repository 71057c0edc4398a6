"""Uploads are kept upright, bare of notes and whole; everything else is refused with a sentence."""

from __future__ import annotations

import hashlib
import io
import struct
import zlib
from pathlib import Path

import pytest
from PIL import Image, ImageCms

from studio.drawing import photos
from studio.drawing.photos import BadPhoto, keep_photo, thumb_name

ORIENTATION, GPS, MAKER, IFD_EXIF = 0x0112, 0x8825, 0x010F, 0x8769


def jpeg(size: tuple[int, int] = (640, 480), **options: object) -> bytes:
    """A picture whose left half is red and right half blue."""
    picture = Image.new("RGB", size, (220, 30, 30))
    picture.paste((30, 30, 220), (size[0] // 2, 0, size[0], size[1]))
    out = io.BytesIO()
    picture.save(out, "JPEG", **options)
    return out.getvalue()


def kept(data: bytes, folder: Path) -> Image.Image:
    found = keep_photo(data=data, folder=folder)
    picture = Image.open(folder / found.name)
    picture.load()
    assert picture.size == (found.width_px, found.height_px)
    return picture


def is_red(colour: object) -> bool:
    assert isinstance(colour, tuple)
    return bool(colour[0] > 180 and colour[2] < 80)


def test_a_photograph_is_kept_with_a_small_copy(tmp_path: Path) -> None:
    found = keep_photo(data=jpeg((3200, 2400)), folder=tmp_path / "new")
    assert (found.width_px, found.height_px) == (1600, 1200)
    assert (
        found.name
        == hashlib.sha256((tmp_path / "new" / found.name).read_bytes()).hexdigest() + ".jpg"
    )
    with Image.open(tmp_path / "new" / thumb_name(found.name)) as thumb:
        assert thumb.size == (320, 240)
        assert thumb.format == "WEBP"


def test_a_small_picture_is_not_blown_up(tmp_path: Path) -> None:
    assert kept(jpeg((200, 100)), tmp_path).size == (200, 100)


def test_the_same_picture_is_kept_once_and_nothing_else_is_left(tmp_path: Path) -> None:
    first = keep_photo(data=jpeg(), folder=tmp_path)
    assert keep_photo(data=jpeg(), folder=tmp_path) == first
    assert len(list(tmp_path.iterdir())) == 2


@pytest.mark.parametrize("orientation", range(1, 9))
def test_every_way_of_holding_a_phone(orientation: int, tmp_path: Path) -> None:
    # Where the first row and column of the stored picture are seen: EXIF 2.32, CIPA 2019, table of
    # the Orientation tag (from memory): 1 top-left, 2 top-right, 3 bottom-right, 4 bottom-left,
    # 5 left-top, 6 right-top, 7 right-bottom, 8 left-bottom.
    exif = Image.Exif()
    exif[ORIENTATION] = orientation
    picture = kept(jpeg(exif=exif), tmp_path)
    # The stored first column (red) is seen at the ...
    red_side = {1: "l", 2: "r", 3: "r", 4: "l", 5: "t", 6: "t", 7: "b", 8: "b"}[orientation]
    assert picture.size == ((640, 480) if orientation < 5 else (480, 640))
    width, height = picture.size
    spots = {
        "l": (10, height // 2),
        "r": (width - 10, height // 2),
        "t": (width // 2, 10),
        "b": (width // 2, height - 10),
    }
    opposite = {"l": "r", "r": "l", "t": "b", "b": "t"}[red_side]
    assert is_red(picture.getpixel(spots[red_side]))
    assert not is_red(picture.getpixel(spots[opposite]))


def test_notes_of_place_and_camera_are_gone(tmp_path: Path) -> None:
    exif = Image.Exif()
    exif[MAKER] = "SecretCamera"
    exif.get_ifd(GPS)[1] = "N"
    exif.get_ifd(GPS)[2] = (54.0, 29.0, 11.0)
    data = jpeg(exif=exif, comment=b"home address")
    assert b"SecretCamera" in data
    found = keep_photo(data=data, folder=tmp_path)
    for file in (tmp_path / found.name, tmp_path / thumb_name(found.name)):
        assert b"SecretCamera" not in file.read_bytes()
        assert b"home address" not in file.read_bytes()
        with Image.open(file) as picture:
            assert dict(picture.getexif()) == {}
            assert dict(picture.getexif().get_ifd(GPS)) == {}


@pytest.mark.filterwarnings("ignore:Corrupt EXIF data", "ignore:Possibly corrupt EXIF data")
def test_a_broken_note_does_not_lose_the_picture(tmp_path: Path) -> None:
    note = b"Exif\0\0II*\0\x08\0\0\0\x02\0" + struct.pack(
        "<HHIIHHII", ORIENTATION, 3, 1, 6, GPS, 4, 1, 0xFFFFFF
    )
    note += b"\0\0\0\0"
    assert kept(jpeg(exif=note), tmp_path).size in {(640, 480), (480, 640)}


def test_clear_parts_become_white(tmp_path: Path) -> None:
    out = io.BytesIO()
    Image.new("RGBA", (64, 64), (0, 0, 0, 0)).save(out, "PNG")
    assert kept(out.getvalue(), tmp_path).getpixel((30, 30)) == (255, 255, 255)


@pytest.mark.parametrize("mode", ["L", "P", "CMYK", "I;16", "1", "LA"])
def test_every_kind_of_pixel_becomes_plain_colour(mode: str, tmp_path: Path) -> None:
    out = io.BytesIO()
    kind = "JPEG" if mode == "CMYK" else "PNG"
    Image.new(mode, (64, 64)).save(out, kind)
    assert kept(out.getvalue(), tmp_path).mode == "RGB"


def test_a_profile_is_turned_into_plain_colour(tmp_path: Path) -> None:
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    picture = kept(jpeg(icc_profile=profile), tmp_path)
    assert "icc_profile" not in picture.info
    assert is_red(picture.getpixel((10, 10)))
    broken = kept(jpeg(icc_profile=b"nonsense" * 20), tmp_path)
    assert is_red(broken.getpixel((10, 10)))


def test_two_pictures_in_one_file_give_the_first(tmp_path: Path) -> None:
    out = io.BytesIO()
    first, second = Image.open(io.BytesIO(jpeg())), Image.new("RGB", (640, 480))
    first.save(out, "MPO", save_all=True, append_images=[second])
    with Image.open(io.BytesIO(out.getvalue())) as both:
        assert both.format == "MPO"
    assert is_red(kept(out.getvalue(), tmp_path).getpixel((10, 10)))


def gif() -> bytes:
    out = io.BytesIO()
    Image.new("P", (64, 64)).save(out, "GIF")
    return out.getvalue()


def bomb(width: int, height: int) -> bytes:
    """A PNG that says it is huge; only its head is there (PNG, W3C, 2003: IHDR)."""

    def chunk(kind: bytes, body: bytes) -> bytes:
        return (
            struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))
        )

    head = chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0))
    return b"\x89PNG\r\n\x1a\n" + head + chunk(b"IDAT", zlib.compress(b"")) + chunk(b"IEND", b"")


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        (b"", "empty"),
        (b"<svg onload='x'/>", "not a JPEG, PNG or WebP"),
        (b"%PDF-1.7", "not a JPEG, PNG or WebP"),
        (gif(), "not a JPEG, PNG or WebP"),
        (jpeg()[:3000], "damaged or cut short"),
        (jpeg((8, 8)), "only 8 x 8 pixels"),
        (bomb(9000, 9000), "81 million pixels"),
        (bomb(10_000, 10_000), "far too large|million pixels"),
        (bomb(60_000, 60_000), "far too large"),
        (bomb(100, 100), "damaged"),
        (b"\xff\xd8\xff" + b"\0" * 100, "not a JPEG|damaged"),
    ],
    ids=range(11),
)
def test_what_is_no_photograph_is_refused(data: bytes, sentence: str, tmp_path: Path) -> None:
    with pytest.raises(BadPhoto, match=sentence):
        keep_photo(data=data, folder=tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_a_file_too_large_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(photos, "MAX_BYTES", 1000)
    with pytest.raises(BadPhoto, match="larger than"):
        keep_photo(data=jpeg(), folder=tmp_path)


def test_a_failing_disk_leaves_no_half_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(source: object, target: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(photos.os, "replace", full)
    with pytest.raises(OSError, match="No space left"):
        keep_photo(data=jpeg(), folder=tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_the_file_is_on_the_disk_before_it_has_its_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen: list[str] = []
    real_sync, real_replace = photos.os.fsync, photos.os.replace

    def sync(handle: int) -> None:
        seen.append("sync")
        real_sync(handle)

    def replace(source: str, target: Path) -> None:
        seen.append(f"rename to {target.suffix}")
        real_replace(source, target)

    monkeypatch.setattr(photos.os, "fsync", sync)
    monkeypatch.setattr(photos.os, "replace", replace)
    keep_photo(data=jpeg(), folder=tmp_path)
    assert seen == ["sync", "rename to .webp", "sync", "rename to .jpg", "sync"]
