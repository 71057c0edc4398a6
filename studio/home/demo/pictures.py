"""How does each graded pot of the demo look? Drawn, and plainly so: there was no camera."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby
from pathlib import Path
from typing import Any, cast

from django.conf import settings

from studio.drawing.photos import KeptPhoto, keep_photo
from studio.drawing.portraits import Silhouette, portrait, studio_mark
from studio.home.demo.fixture import Clock, read
from studio.wares.models import Photo, Piece
from studio.web.models import Studio


def draw_pieces(*, clock: Clock) -> None:
    """Give every graded piece one of its line's few drawings, and the studio its mark."""
    colours = read("pictures.json")
    folder = Path(settings.MEDIA_ROOT)
    graded = (
        Piece.objects.filter(number__isnull=False)
        .select_related("form", "clay_lot", "coats")
        .order_by("form", "clay_lot", "coats", "number")
    )
    for _, same in groupby(graded, key=lambda p: (p.form_id, p.clay_lot_id, p.coats_id)):
        pieces = list(same)
        photos = [_photo(kept, clock) for kept in _drawings(pieces[0], colours, folder)]
        _hang(pieces, photos)
    studio = Studio.objects.get(id=1)
    studio.mark = keep_photo(data=studio_mark(name=studio.name), folder=folder).name
    studio.save(update_fields=["mark"])


def _drawings(piece: Piece, colours: dict[str, Any], folder: Path) -> list[KeptPhoto]:
    assert piece.coats is not None
    layers = piece.coats.layers.select_related("glaze")
    return [
        keep_photo(
            data=portrait(
                silhouette=cast(Silhouette, piece.form.silhouette),
                body_colour=colours["bodies"][piece.clay_lot.body],
                glaze_colours=tuple(colours["glazes"][layer.glaze.name] for layer in layers),
                seed=seed,
            ),
            folder=folder,
        )
        for seed in range(colours["pictures_a_line"])
    ]


def _photo(kept: KeptPhoto, clock: Clock) -> Photo:
    row, _ = Photo.objects.get_or_create(
        name=kept.name,
        defaults={
            "width_px": kept.width_px,
            "height_px": kept.height_px,
            "kept_at": clock.at(-1, 12),
        },
    )
    return row


def _hang(pieces: Sequence[Piece], photos: Sequence[Photo]) -> None:
    for n, piece in enumerate(pieces):
        piece.photo = photos[n % len(photos)]
    Piece.objects.bulk_update(pieces, ["photo"])
