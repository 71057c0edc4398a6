"""Which papers go with a month's parcels: slips, the packer's list, labels, customs sheets.

Printing marks nothing: a paper may be printed again and again, and only the buttons on the page
say that something was packed or posted. Addresses are printed as they were locked.
"""

from __future__ import annotations

from datetime import date
from pathlib import Path

from django.conf import settings
from django.utils import timezone

from studio.craft.customs import KINDS, BadDeclaration, Declaration
from studio.craft.money import decimals
from studio.drawing.customs_sheets import CustomsLine, CustomsSheet, customs_pdf
from studio.drawing.labels import Label, TooLong, labels_pdf
from studio.drawing.paper import Paper
from studio.drawing.slips import PackerRow, Slip, SlipPiece, packers_pdf, slips_pdf
from studio.drawing.turn_sheets import TurnSheet, turn_sheet_pdf
from studio.parcels import address, rules, selectors
from studio.parcels.models import Parcel, ParcelPiece, PostSettings, Shipment, Supporter
from studio.parcels.selectors.bench import bench_parcels
from studio.wares.kinds import Kind, kind_of
from studio.wares.models import Piece
from studio.wares.rules import FIRED_BEFORE
from studio.wares.selectors import food_words
from studio.web.models import Studio
from studio.web.refusal import Refusal, refuse
from studio.web.selectors import the_studio

CARE = "Hand washing keeps it nicest. It has not been tested in an oven or a microwave."
"""What the slip says when the studio has not written a care note of its own."""

BROKEN = "Please send us a photograph of the pot, the padding and the box within 7 days."
MARKS = "Pottery. Fragile"
HEADINGS = (
    "Tariff headings: Harmonized System, chapter 69; six digits are shared by all countries, and"
    " many ask for more. When in doubt, ask the post office."
)


def printed(shipment: Shipment, *, parcel: Parcel | None = None) -> list[Parcel]:
    """The parcels whose papers are printed: one, or all of a month."""
    found = bench_parcels(shipment).order_by("supporter__number", "id")
    return list(found.filter(id=parcel.id) if parcel is not None else found)


def addressed(shipment: Shipment, *, parcel: Parcel | None = None) -> list[Parcel]:
    """Those of them whose address is still kept: a slip with only a country goes nowhere."""
    return [one for one in printed(shipment, parcel=parcel) if selectors.is_address_kept(one)]


def slips_paper(shipment: Shipment, *, parcel: Parcel | None = None) -> bytes:
    """The packing slips of a month, or of one parcel, one parcel a page. None shows a price.

    Those whose printed address was forgotten are left out. Raises: Refusal when no parcel is
    picked, one has no piece, an address is not locked, or none is kept any more.
    """
    refuse(selectors.cannot_print(shipment))
    refuse(selectors.cannot_print_addresses(shipment, parcel=parcel))
    studio, bench = the_studio(), _Bench()
    slips = [_slip(one, studio, bench) for one in addressed(shipment, parcel=parcel)]
    return slips_pdf(slips=slips, paper=_paper(studio))


def packers_paper(shipment: Shipment) -> bytes:
    """The packer's list of a month as a PDF. Raises Refusal when no parcel is picked."""
    if not shipment.parcels.exists():
        raise Refusal(rules.can_print(month=shipment.month, parcels=0, empty="") or "")
    bench = _Bench()
    rows = tuple(_packer_row(parcel, box=bench.box(parcel)) for parcel in printed(shipment))
    title = f"Parcels of {rules.month_name(shipment.month)}"
    return packers_pdf(title=title, rows=rows, paper=_paper(the_studio()))


def labels_paper(
    shipment: Shipment, *, sheet: str, start: int = 1, parcel: Parcel | None = None
) -> bytes:
    """The address labels of a month's parcels that are here, or of one.

    Raises: Refusal when there is none, an address is not locked, or too long for its label.
    """
    refuse(selectors.cannot_print(shipment))
    refuse(selectors.cannot_print_addresses(shipment, parcel=parcel))
    studio, post = the_studio(), selectors.post_settings()
    found = addressed(shipment, parcel=parcel)
    here = found if parcel is not None else [one for one in found if one.state in rules.STATES[:2]]
    refuse(None if here else "All parcels of this month are posted. Print the label of one alone.")
    labels = [
        Label(
            parcel_number=str(one),
            to=selectors.locked_lines(one),
            name=_name_line(one),
            sender=_sender(studio, post),
            marks=MARKS,
        )
        for one in here
    ]
    try:
        return labels_pdf(labels=labels, sheet=sheet, start=start)
    except TooLong as problem:
        raise Refusal(
            f"The address of parcel {problem.parcel_number} is too long for this label."
            " Print it alone on a 4 x 6 in label."
        ) from None
    except ValueError as problem:
        raise Refusal(f"{str(problem)[:1].upper()}{str(problem)[1:]}.") from None


def customs_paper(shipment: Shipment, *, parcel: Parcel | None = None) -> bytes:
    """What each parcel that crosses a customs border declares, one a page.

    Those whose printed address was forgotten are left out. Raises: Refusal when none does, none is
    kept any more, an address is not locked, or something to declare is missing.
    """
    refuse(selectors.cannot_print(shipment))
    refuse(selectors.cannot_print_addresses(shipment, parcel=parcel))
    studio, post, types = the_studio(), selectors.post_settings(), selectors.box_types()
    found = printed(shipment, parcel=parcel)
    abroad = [one for one in found if selectors.needs_customs(one, settings=post)]
    refuse(None if abroad else "No parcel here crosses a customs border, so none is declared.")
    refuse(selectors.cannot_print_any(shipment, abroad))
    sheets, bodies = [], selectors.body_kinds()
    for one in filter(selectors.is_address_kept, abroad):
        pieces = list(one.lines.all())
        known = selectors.facts(one, pieces=pieces, types=types, settings=post)
        try:
            declared = selectors.declaration(
                one, pieces=pieces, weight_g=known.weight_g, settings=post, bodies=bodies
            )
        except BadDeclaration as problem:
            raise Refusal(f"Parcel {one}: {problem.sentence}") from None
        sheets.append(_customs_sheet(one, declared, studio=studio, post=post))
    return customs_pdf(sheets=sheets, paper=_paper(studio))


class _Bench:
    """What the papers of a month say again and again, asked once."""

    def __init__(self) -> None:
        self._types, self._post = selectors.box_types(), selectors.post_settings()
        self._food: dict[tuple[Kind, ...], str] = {}

    def box(self, parcel: Parcel) -> str:
        """The box that was chosen, else the best fit."""
        pieces = list(parcel.lines.all())
        known = selectors.facts(parcel, pieces=pieces, types=self._types, settings=self._post)
        return known.box

    def food(self, pieces: list[Piece]) -> str:
        """What may be said of these pieces and food: the same for the same kinds of pot."""
        kinds = tuple(dict.fromkeys(kind_of(piece) for piece in pieces))
        if kinds not in self._food:
            self._food[kinds] = food_words(pieces)
        return self._food[kinds]


def _slip(parcel: Parcel, studio: Studio, bench: _Bench) -> Slip:
    supporter = parcel.supporter
    care = studio.care_note.strip() or CARE
    return Slip(
        parcel_number=str(parcel),
        studio_name=studio.name,
        studio_mark=_photo(studio.mark),
        studio_lines=tuple(line for line in studio.reply_address.splitlines() if line.strip()),
        ship_to=selectors.locked_lines(parcel),
        ship_name=_name_line(parcel),
        pieces=tuple(_slip_piece(row) for row in parcel.lines.all()),
        note=parcel.note,
        care_note=f"{care} {bench.food([row.piece for row in parcel.lines.all()])}".strip(),
        gift=supporter.is_gift,
        gift_from=supporter.gift_from if supporter.is_gift else "",
        price_line=None,
        broken_note=BROKEN,
        month_name=rules.month_name(parcel.shipment.month),
        box=bench.box(parcel),
    )


def _name_line(parcel: Parcel) -> str:
    """The line that is the name: some countries print it in capitals, and it is marked so."""
    lines = selectors.locked_lines(parcel)
    name = (parcel.locked_name or parcel.supporter.name).casefold()
    return next((one for one in lines if one.casefold() == name), lines[0])


def _sender(studio: Studio, post: PostSettings) -> tuple[str, ...]:
    lines = [line.strip() for line in studio.reply_address.splitlines() if line.strip()]
    home = address.country_name(post.home_code)
    if lines and lines[-1].casefold() == home.casefold():
        lines.pop()
    return (studio.name, *lines, home.upper())


def _customs_sheet(
    parcel: Parcel, declared: Declaration, *, studio: Studio, post: PostSettings
) -> CustomsSheet:
    def worth(pence: int) -> str:
        places = decimals(studio.currency)
        return f"{pence / 10**places:.{places}f} {studio.currency}"

    pieces = "1 piece" if declared.count == 1 else f"{declared.count} pieces"
    return CustomsSheet(
        parcel_number=str(parcel),
        form=declared.form,
        why=declared.why,
        sender=_sender(studio, post),
        contact=post.contact,
        to=selectors.locked_lines(parcel),
        kinds=tuple((words, key == declared.kind) for key, words in KINDS.items()),
        lines=tuple(
            CustomsLine(
                description=line.description,
                count=str(line.count),
                weight=_kg(line.net_weight_g),
                value=worth(line.value_pence),
                heading=line.heading,
                origin=line.origin,
            )
            for line in declared.lines
        ),
        total_count=pieces,
        total_net=_kg(declared.net_weight_g),
        total_gross=_kg(declared.gross_weight_g),
        total_value=worth(declared.value_pence),
        sources=_sources(studio, post),
    )


def _sources(studio: Studio, post: PostSettings) -> tuple[str, ...]:
    limits = f"Limits: {post.limit_source}; looked up on {_day(post.limit_date)}."
    rate = "No rate of the SDR is entered."
    if post.sdr_rate is not None and post.sdr_date is not None:
        rate = (
            f"1 SDR = {post.sdr_rate.normalize():f} {studio.currency}: {post.sdr_source},"
            f" {_day(post.sdr_date)}."
        )
    return (limits, rate, HEADINGS)


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
        facts.append(f"out of the kiln on {_day(day)}")
    elif piece.counted_in:
        facts.append(FIRED_BEFORE)
    if piece.grade == "second":
        facts.append("a second: it works, and has a flaw to see")
    return ", ".join(facts)


def _packer_row(parcel: Parcel, *, box: str) -> PackerRow:
    supporter = parcel.supporter
    confirmed = supporter.address_confirmed_date
    rows = list(parcel.lines.all())
    wishes = [
        supporter.packing_note,
        f"gift from {supporter.gift_from}" if supporter.is_gift else "",
        "in place of a broken one" if parcel.replaces_id else "",
    ]
    return PackerRow(
        parcel_number=str(parcel),
        name=supporter.name,
        country=address.country_name(supporter.country_code),
        pieces="\n".join(f"{r.piece} {r.piece.form}, {r.piece.coats}" for r in rows) or "none yet",
        stands="\n".join(_stands(row.piece) for row in rows),
        box=box,
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


def _kg(grams: int) -> str:
    return f"{grams / 1000:.3f} kg"


def _day(day: date) -> str:
    return f"{day.day} {day:%B %Y}"


def turn_paper(supporter: Supporter, *, today_date: date) -> bytes:
    """Why one supporter's next turn comes when it comes, as a PDF."""
    story = selectors.turn_story(supporter, today_date=today_date)
    studio = the_studio()
    turn = _turn(story, studio_name=studio.name, day=today_date)
    return turn_sheet_pdf(turn=turn, paper=_paper(studio))


def _turn(story: selectors.TurnStory, *, studio_name: str, day: date) -> TurnSheet:
    line = story.line
    person = line.supporter
    shown = f"{day.day} {day:%B %Y}"
    last = f", the last in {line.last_name}" if line.last_name else ""
    return TurnSheet(
        title=f"The turn of {person.name}",
        sentence=f"Supporter {person.number} of {studio_name}, as of {shown}.",
        why=rules.why_then(
            eligible=line.eligible,
            why_not=line.why_not,
            next_words=line.next_words,
            before=story.before,
            among=story.eligible,
        ),
        facts=(
            ("Joined", rules.month_name(person.joined_month)),
            ("Paid months", str(line.months_paid)),
            ("Fair share so far", f"{line.share_shown} parcels"),
            ("Sent", f"{line.sent}{last}"),
            ("Due", f"{line.due_shown} parcels"),
        ),
        rows=tuple(
            (
                month.name,
                str(month.parcels),
                str(month.among),
                f"{float(month.part):.2f}",
                "1" if month.sent else "",
                f"{float(month.due):+.2f}",
                f"skipped: {month.note}. The place was kept." if month.note else "",
            )
            for month in story.months
        ),
        rule=rules.rule_words(is_equal=story.is_equal, months_needed=story.months_needed),
        foot=f"{studio_name}: supporter {person.number}",
    )
