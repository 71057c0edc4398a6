"""Which papers go with a month's parcels: a slip in each box, and the packer's list.

Printing marks nothing: a paper may be printed again and again, and only the buttons on the page
say that something was packed or posted.
"""

from __future__ import annotations

from pathlib import Path

from django.conf import settings
from django.utils import timezone

from studio.drawing.paper import Paper
from studio.drawing.slips import PackerRow, Slip, SlipPiece, packers_pdf, slips_pdf
from studio.parcels import address, rules, selectors
from studio.parcels.models import Parcel, ParcelPiece, Shipment
from studio.wares.models import Piece
from studio.wares.rules import FIRED_BEFORE, NO_LAB_RESULT
from studio.web.models import Studio
from studio.web.refusal import Refusal
from studio.web.selectors import the_studio

CARE = "Hand washing keeps it nicest. It has not been tested in an oven or a microwave."
"""What the slip says when the studio has not written a care note of its own."""

BROKEN = "Please send us a photograph of the pot, the padding and the box within 7 days."


def slips_paper(shipment: Shipment) -> bytes:
    """The packing slips of a month, one parcel a page, as a PDF. No slip shows a price.

    Raises: Refusal when no parcel is picked, or one has no piece.
    """
    cannot = selectors.cannot_print(shipment)
    if cannot:
        raise Refusal(cannot)
    studio = the_studio()
    slips = [_slip(parcel, studio) for parcel in _parcels(shipment)]
    return slips_pdf(slips=slips, paper=_paper(studio))


def packers_paper(shipment: Shipment) -> bytes:
    """The packer's list of a month as a PDF. Raises Refusal when no parcel is picked."""
    if not shipment.parcels.exists():
        raise Refusal(rules.can_print(month=shipment.month, parcels=0, empty="") or "")
    rows = tuple(_packer_row(parcel) for parcel in _parcels(shipment))
    title = f"Parcels of {rules.month_name(shipment.month)}"
    return packers_pdf(title=title, rows=rows, paper=_paper(the_studio()))


def _parcels(shipment: Shipment) -> list[Parcel]:
    return list(
        shipment.parcels.select_related("supporter", "shipment")
        .prefetch_related(
            "lines__piece__form",
            "lines__piece__clay_lot",
            "lines__piece__coats",
            "lines__piece__board",
            "lines__piece__photo",
            "lines__piece__schedule",
            "lines__piece__glaze_firing",
        )
        .order_by("supporter__number")
    )


def _slip(parcel: Parcel, studio: Studio) -> Slip:
    supporter = parcel.supporter
    lines = selectors.address_lines(supporter)
    # Some countries print the name in capitals: the slip marks the line as it is printed.
    name = next((one for one in lines if one.casefold() == supporter.name.casefold()), lines[0])
    care = studio.care_note.strip() or CARE
    return Slip(
        parcel_number=str(parcel),
        studio_name=studio.name,
        studio_mark=_photo(studio.mark),
        studio_lines=tuple(line for line in studio.reply_address.splitlines() if line.strip()),
        ship_to=lines,
        ship_name=name,
        pieces=tuple(_slip_piece(row) for row in parcel.lines.all()),
        note=parcel.note,
        care_note=f"{care} {NO_LAB_RESULT}",
        gift=supporter.is_gift,
        gift_from=supporter.gift_from if supporter.is_gift else "",
        price_line=None,
        broken_note=BROKEN,
        month_name=rules.month_name(parcel.shipment.month),
    )


def _slip_piece(row: ParcelPiece) -> SlipPiece:
    piece = row.piece
    return SlipPiece(
        number=str(piece),
        form=piece.form.name,
        line=f"{piece.coats} on {piece.clay_lot.body}",
        facts=_facts(piece),
        picture=_photo(piece.photo.name) if piece.photo else None,
    )


def _facts(piece: Piece) -> str:
    """Clay lot, cone, the day its kiln was opened, and whether it is a second."""
    facts = [f"Clay lot {piece.clay_lot.lot}"]
    if piece.schedule is not None:
        facts.append(f"fired to cone {piece.schedule.cone}")
    if piece.glaze_firing is not None and piece.glaze_firing.opened_at is not None:
        day = timezone.localdate(piece.glaze_firing.opened_at)
        facts.append(f"out of the kiln on {day.day} {day:%B %Y}")
    elif piece.counted_in:
        facts.append(FIRED_BEFORE)
    if piece.grade == "second":
        facts.append("a second: it works, and has a flaw to see")
    return ", ".join(facts)


def _packer_row(parcel: Parcel) -> PackerRow:
    supporter = parcel.supporter
    confirmed = supporter.address_confirmed_date
    rows = list(parcel.lines.all())
    wishes = [
        supporter.packing_note,
        f"gift from {supporter.gift_from}" if supporter.is_gift else "",
    ]
    return PackerRow(
        parcel_number=str(parcel),
        name=supporter.name,
        country=address.country_name(supporter.country_code),
        pieces="\n".join(f"{r.piece} {r.piece.form}, {r.piece.coats}" for r in rows) or "none yet",
        stands="\n".join(_stands(row.piece) for row in rows),
        box=parcel.box,
        wishes="; ".join(wish for wish in wishes if wish),
        address_confirmed=f"{confirmed.day} {confirmed:%b %Y}" if confirmed else "",
    )


def _stands(piece: Piece) -> str:
    if piece.parting:
        return piece.get_parting_display()
    if piece.board is None:
        return "no board"
    place = f", {piece.board.place}" if piece.board.place else ""
    return f"board {piece.board}{place}"


def _photo(name: str) -> Path | None:
    """The file of a photo, if it is there; a missing one prints as an empty frame."""
    path = Path(settings.MEDIA_ROOT) / name
    return path if name and path.is_file() else None


def _paper(studio: Studio) -> Paper:
    return "Letter" if studio.paper == "Letter" else "A4"
