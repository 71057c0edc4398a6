"""Who may see a photo, and can its address reach any other file?"""

from pathlib import Path

import pytest
from django.test import Client

from tests.web.reading import body

NAME = "0123456789abcdef" * 4


def test_a_photo_is_shown_to_a_signed_in_person_and_kept(signed_in: Client, photos: Path) -> None:
    (photos / f"{NAME}.webp").write_bytes(b"picture")
    answer = signed_in.get(f"/photos/{NAME}.webp")
    assert body(answer) == b"picture"
    assert answer.headers["Content-Type"] == "image/webp"
    assert answer.headers["Cache-Control"] == "private, max-age=31536000, immutable"
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert signed_in.post(f"/photos/{NAME}.webp").status_code == 405


def test_the_whole_photo_is_a_jpeg(signed_in: Client, photos: Path) -> None:
    (photos / f"{NAME}.jpg").write_bytes(b"small")
    answer = signed_in.get(f"/photos/{NAME}.jpg")
    assert body(answer) == b"small"


@pytest.mark.parametrize(
    "name",
    [
        f"{NAME}.jpg",  # well named and not there
        f"{NAME[:-1]}.jpg",
        f"{NAME.upper()}.jpg",
        f"{NAME}.svg",
        f"{NAME}.webp.html",
        "secret.key",
        "..%2Fsecret.key",
        "%2e%2e%2fwareboard.sqlite3",
        f"{NAME}%00.webp",
        f"{NAME}.webp%0A",
    ],
)
def test_no_other_file_is_reached(signed_in: Client, photos: Path, name: str) -> None:
    (photos / "secret.key").write_text("key")
    (photos.parent / "secret.key").write_text("key")
    assert signed_in.get(f"/photos/{name}").status_code == 404
