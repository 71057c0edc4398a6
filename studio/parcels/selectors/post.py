"""What does a parcel weigh, which box does it take, and what does it declare to customs?"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from studio.craft import boxes, customs
from studio.craft.money import decimals
from studio.drawing.text import missing
from studio.parcels.models import BodyKind, BoxType, FormUse, Parcel, ParcelPiece, PostSettings
from studio.wares.models import ClayLot, Form
from studio.web.selectors import the_studio

_PURPOSES = {
    "mug": "for drinks",
    "tumbler": "for drinks",
    "bowl": "for food",
    "plate": "for food",
    "vase": "for flowers",
    "jar": "for storing food",
}
"""What a silhouette is usually for; the potter can say another."""


@dataclass(frozen=True, kw_only=True, slots=True)
class ParcelFacts:
    """What is known of a parcel's box and weight [g]. ``why_unknown`` says what is missing."""

    box: str
    is_suggested: bool
    reckoned_g: int | None
    weighed_g: int | None
    volume_g: int | None
    why_unknown: str

    @property
    def weight_g(self) -> int | None:
        """What the scale said, else what was reckoned."""
        return self.weighed_g or self.reckoned_g

    @property
    def billable_g(self) -> int | None:
        """What a carrier counts: the larger of weight and volume weight."""
        if self.weight_g is None or self.volume_g is None:
            return None
        return boxes.billable_weight_g(scale_g=self.weight_g, volume_g=self.volume_g)


@dataclass(frozen=True, kw_only=True, slots=True)
class FormWords:
    """A form as customs read it: said by the potter, or taken from its silhouette."""

    form: Form
    purpose: str
    is_ornament: bool
    is_said: bool


@dataclass(frozen=True, kw_only=True, slots=True)
class BodyWords:
    """A body as customs read it: said by the potter, or guessed from its name."""

    body: str
    kind: customs.Body
    is_said: bool


def post_settings() -> PostSettings:
    """The one row of what the post asks for; its defaults before anyone has saved it."""
    return PostSettings.objects.filter(id=1).first() or PostSettings(id=1)


def box_types() -> list[BoxType]:
    """Every box the studio packs in, the smallest first."""
    return sorted(
        BoxType.objects.all(),
        key=lambda box: (box.length_mm * box.width_mm * box.height_mm, box.id),
    )


def facts(
    parcel: Parcel,
    *,
    pieces: Sequence[ParcelPiece],
    types: Sequence[BoxType],
    settings: PostSettings,
) -> ParcelFacts:
    """The box and weight of a parcel; its box is the best fit until one is chosen."""
    wares = [_ware(row.piece.form) for row in pieces]
    known = {box.name.casefold(): box for box in types}
    name = parcel.box
    if not name and wares:
        best = boxes.best_box(wares, [_box(b) for b in types], padding_mm=settings.padding_mm)
        name = best.key if best else ""
    box = known.get(name.casefold())
    reckoned = volume = None
    why = ""
    if not wares:
        why = "there is no piece in it"
    elif box is not None:
        reckoned = boxes.parcel_weight_g(
            ware_weights_g=[ware.weight_g for ware in wares], box_weight_g=box.weight_g
        )
        volume = boxes.volume_weight_g(_box(box), divisor_cm3_per_kg=settings.divisor_cm3_per_kg)
    elif name:
        why = f"no box type is called “{name}”: weigh it, or choose a box of the table"
    elif types:
        why = "no box of the table holds it with its padding: choose one by hand, or weigh it"
    else:
        why = "the table has no boxes yet"
    return ParcelFacts(
        box=name,
        is_suggested=bool(name) and not parcel.box,
        reckoned_g=reckoned,
        weighed_g=parcel.weighed_g,
        volume_g=volume,
        why_unknown=why,
    )


def needs_customs(parcel: Parcel, *, settings: PostSettings) -> bool:
    """Whether a parcel crosses a customs border."""
    return customs.needs_declaration(
        origin=settings.home_code,
        destination=_destination(parcel),
        without=settings.without_codes.split(),
    )


def declaration(
    parcel: Parcel,
    *,
    pieces: Sequence[ParcelPiece],
    weight_g: int | None,
    settings: PostSettings,
    bodies: Mapping[str, str] | None = None,
) -> customs.Declaration:
    """What a parcel declares. ``bodies`` is ``body_kinds()``, asked when left out.

    Raises: BadDeclaration with a sentence when a value, a weight or a word is missing.
    """
    name = parcel.supporter.name
    if weight_g is None:
        raise customs.BadDeclaration(
            f"The weight of the parcel of {name} is not known: choose its box, or weigh it."
        )
    said = body_kinds() if bodies is None else bodies
    lines = [_contents(row, settings=settings, bodies=said) for row in pieces]
    return customs.declare(
        pieces=lines,
        gross_weight_g=weight_g,
        kind=parcel.item_kind or settings.item_kind,
        units=10 ** decimals(the_studio().currency),
        limits=customs.Limits(
            sdr=settings.limit_sdr,
            weight_g=settings.limit_g,
            rate=settings.sdr_rate,
            parcel_post=settings.parcel_post,
        ),
    )


def form_use(form: Form) -> FormWords:
    """What a form is for."""
    said: FormUse | None = getattr(form, "use", None)
    if said is not None:
        return FormWords(
            form=form, purpose=said.purpose, is_ornament=said.is_ornament, is_said=True
        )
    return FormWords(
        form=form,
        purpose=_PURPOSES.get(form.silhouette, "for the table"),
        is_ornament=False,
        is_said=False,
    )


def body_kinds() -> dict[str, str]:
    """What the potter said of bodies: the kind by the body's casefolded name."""
    return {body.casefold(): kind for body, kind in BodyKind.objects.values_list("body", "kind")}


def body_kind(body: str, *, said: Mapping[str, str]) -> BodyWords:
    """What a body is: porcelain or not. ``said`` is ``body_kinds()``."""
    own = said.get(body.casefold())
    kind = own if own is not None else customs.guess_body(body)
    found = next(one for one in customs.BODIES if one == kind)
    return BodyWords(body=body, kind=found, is_said=own is not None)


def customs_words() -> tuple[list[FormWords], list[BodyWords]]:
    """Every form and every body as customs read them."""
    forms = [form_use(form) for form in Form.objects.select_related("use").order_by("name")]
    names = sorted(set(ClayLot.objects.order_by().values_list("body", flat=True)))
    said = body_kinds()
    return forms, [body_kind(name, said=said) for name in names]


def unprintable(lines: Iterable[str]) -> str:
    """The letters of an address that no font here can draw, for a warning; '' when all can."""
    return " ".join(missing("\n".join(lines)))


def _contents(
    row: ParcelPiece, *, settings: PostSettings, bodies: Mapping[str, str]
) -> customs.Contents:
    form = form_use(row.piece.form)
    body = body_kind(row.piece.clay_lot.body, said=bodies)
    value = row.value_pence if row.value_pence is not None else row.piece.form.price_pence
    return customs.Contents(
        description=(f"handmade glazed {body.kind} {row.piece.form.name.lower()}, {form.purpose}"),
        count=1,
        net_weight_g=row.piece.form.weight_g,
        value_pence=value,
        heading=customs.heading_for(body=body.kind, ornament=form.is_ornament),
        origin=settings.home_code,
    )


def _destination(parcel: Parcel) -> str:
    locked = parcel.locked_address.get("country_code") if parcel.locked_at else None
    return str(locked or parcel.supporter.country_code)


def _ware(form: Form) -> boxes.Ware:
    return boxes.Ware(
        length_mm=form.width_mm + form.handle_mm,
        width_mm=form.width_mm,
        height_mm=form.height_mm,
        weight_g=form.weight_g,
    )


def _box(box: BoxType) -> boxes.Box:
    return boxes.Box(
        key=box.name,
        length_mm=box.length_mm,
        width_mm=box.width_mm,
        height_mm=box.height_mm,
        weight_g=box.weight_g,
        wall_mm=box.wall_mm,
        takes=box.takes,
    )
