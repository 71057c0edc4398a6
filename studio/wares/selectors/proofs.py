"""What does the record say of a glaze on a clay, and is it proven by that?

A combination is clay lot, coats and schedule: forms share its record. Read from the moves alone: a
piece came out good of a firing unless it was lost in it, scrapped ungraded, or sent back to be
fired again. Moves of changes that were undone do not count.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import Exists, OuterRef, QuerySet
from django.utils import timezone

from studio.craft.calendar import say_date
from studio.craft.standing import Fired, Proof, Verdict, judge
from studio.wares import rules
from studio.wares.kinds import Combination, Kind, kind_of
from studio.wares.models import (
    Bucket,
    Coat,
    Fault,
    KilnTrial,
    LabResult,
    Line,
    Move,
    Piece,
    ProofRule,
    Stage,
)
from studio.wares.selectors.renewed import Renewed, renewed_kilns


@dataclass(slots=True)
class _Came:
    """What one piece went through: the kiln and day of its firings, and whether it was good."""

    kiln_id: int
    glazed_date: date
    at: datetime
    lit_date: date
    is_good: bool = True


def combination_of(line: Line) -> Combination:
    """The combination of a line."""
    return Combination(line.clay_lot_id, line.coats_id, line.schedule_id)


def proof_rule() -> ProofRule:
    """What the studio asks for; before anyone has said it, an unsaved row of defaults."""
    return ProofRule.objects.filter(pk=1).first() or ProofRule()


def proof_of(rule: ProofRule) -> Proof:
    """The rule as the sums need it."""
    return Proof(
        firings=rule.firings,
        pieces=rule.pieces,
        good_percent=rule.good_percent,
        confirming=rule.confirming,
    )


def fired_of(
    combination: Combination,
    *,
    after: datetime | None = None,
    kiln_id: int | None = None,
    renewed: Iterable[Renewed] = (),
) -> list[Fired]:
    """One row a firing and day of dipping, the earliest first; only openings ``after`` a moment.

    What was fired before a kiln was ``renewed`` is marked so.
    """
    came = _came(
        piece__clay_lot=combination.clay_lot_id,
        piece__coats=combination.coats_id,
        piece__schedule=combination.schedule_id,
    )
    changed = {one.kiln_id: one.on_date for one in renewed}
    return _rows(came, after=after, kiln_id=kiln_id, changed=changed)


def fired_in(kiln_id: int) -> set[Combination]:
    """The combinations of which something came out of a kiln."""
    rows = Piece.objects.filter(
        moves__firing__kiln=kiln_id, coats__isnull=False, schedule__isnull=False
    ).values_list("clay_lot_id", "coats_id", "schedule_id")
    return {Combination(clay, coats or 0, fire or 0) for clay, coats, fire in rows.distinct()}


def fired_by_batch() -> dict[tuple[int, int, int, int], list[tuple[int, int]]]:
    """Form, clay lot, coats and schedule -> firsts and of in each glaze firing that is graded.

    A firing counts once all of its ware of the kind is decided: what was lost is known first.
    """
    came = _came(piece__coats__isnull=False, piece__schedule__isnull=False)
    pieces = {
        row[0]: row[1:]
        for row in Piece.objects.filter(coats__isnull=False, schedule__isnull=False).values_list(
            "id", "grade", "form_id", "clay_lot_id", "coats_id", "schedule_id"
        )
    }
    sums: dict[tuple[int, int, int, int], dict[int, list[int]]] = {}
    open_: set[tuple[tuple[int, int, int, int], int]] = set()
    for (piece_id, firing_id), one in came.items():
        grade, *rest = pieces[piece_id]
        form, lot, coats, schedule = rest
        kind = (form, lot, coats, schedule)
        if one.is_good and not grade:
            open_.add((kind, firing_id))
            continue
        row = sums.setdefault(kind, {}).setdefault(firing_id, [0, 0])
        row[0] += one.is_good and grade == Piece.Grade.FIRST
        row[1] += 1
    return {
        kind: [
            (good, of)
            for firing_id, (good, of) in sorted(firings.items())
            if (kind, firing_id) not in open_
        ]
        for kind, firings in sums.items()
    }


def _came(**asked: object) -> dict[tuple[int, int], _Came]:
    """Piece and firing -> how it came out, for the pieces of these moves."""
    moves = (
        Move.objects.filter(change__undone_by__isnull=True, **asked)
        .exclude(kind__in=[Move.Kind.MADE, Move.Kind.COUNTED, Move.Kind.UNDO])
        .order_by("piece_id", "seq")
        .values_list(
            "piece_id", "kind", "from_stage", "to_stage", "parting", "firing_id", "at",
            "firing__kiln_id", "firing__lit_at",
        )
    )  # fmt: skip
    came: dict[tuple[int, int], _Came] = {}
    piece, last, glazed_at = 0, None, None
    for piece_id, kind, from_stage, to_stage, parting, firing_id, at, kiln, lit_at in moves:
        if piece_id != piece:
            piece, last, glazed_at = piece_id, None, None
        if kind == Move.Kind.STEP and to_stage == Stage.GLAZED:
            glazed_at = at
        elif kind == Move.Kind.STEP and to_stage == Stage.FIRED and firing_id:
            last = _Came(kiln, _day(glazed_at or at), at, _day(lit_at or at))
            came[piece_id, firing_id] = last
        elif kind == Move.Kind.PARTING and from_stage == Stage.GLAZED and firing_id:
            days = _day(glazed_at or at), at, _day(lit_at or at)
            came[piece_id, firing_id] = _Came(kiln, *days, False)
        elif last is not None and from_stage == Stage.FIRED:
            again = kind == Move.Kind.REFIRE
            gone = kind == Move.Kind.PARTING and (firing_id or parting == "scrapped")
            last.is_good = last.is_good and not (again or gone)
    return came


def _rows(
    came: dict[tuple[int, int], _Came],
    *,
    after: datetime | None,
    kiln_id: int | None,
    changed: Mapping[int, date],
) -> list[Fired]:
    sums: dict[tuple[date, int], list[int]] = {}
    fires: dict[int, tuple[int, bool]] = {}
    for (_, firing_id), one in came.items():
        if (after is None or one.at > after) and kiln_id in (None, one.kiln_id):
            row = sums.setdefault((one.glazed_date, firing_id), [0, 0])
            row[0] += one.is_good
            row[1] += 1
            is_before = one.lit_date < changed.get(one.kiln_id, date.min)
            fires[firing_id] = (one.kiln_id, is_before)
    return [
        Fired(
            firing_id=firing_id,
            glazed_date=day,
            good=good,
            of=of,
            kiln_id=fires[firing_id][0],
            is_before=fires[firing_id][1],
        )
        for (day, firing_id), (good, of) in sorted(sums.items())
    ]


def _day(moment: datetime) -> date:
    return timezone.localdate(moment)


def verdict_of(line: Line, *, rule: ProofRule | None = None, kiln_id: int | None = None) -> Verdict:
    """How a line stands by its records, the potter's word and what was renewed since."""
    word = "" if line.is_learnt and line.word == Line.Standing.PROVEN else line.word
    if not line.is_learnt:
        word = str(line.standing)
    bucket = renewed_bucket(line)
    starts_anew = line.word_at is not None and word in (Line.Standing.UNTRIED, Line.Standing.TRIAL)
    kilns = renewed_kilns(combination_of(line))
    fired = fired_of(
        combination_of(line),
        after=line.word_at if starts_anew else None,
        kiln_id=kiln_id,
        renewed=kilns,
    )
    said = str(line.word if line.is_learnt else line.standing)
    trusted_at = line.word_at if said == Line.Standing.PROVEN else None
    holds = bucket is None or (line.word_at is not None and line.word_at > bucket.kept_at)
    renewed_date = bucket.mixed_date if bucket and not (word == "proven" and holds) else None
    renewed = (
        f"a new bucket of {bucket.glaze} on {say_date(renewed_date)}"
        if renewed_date and bucket
        else ""
    )
    other = None if renewed or word == "proven" or starts_anew else proven_lot_before(line)
    if other is not None:
        renewed = f"{line.clay_lot} is a new lot"
    return judge(
        fired=fired,
        proof=proof_of(rule or proof_rule()),
        word=word,
        word_holds=holds,
        renewed_date=renewed_date,
        renewed=renewed,
        changed={
            one.kiln_id: one.words
            for one in kilns
            if trusted_at is None or one.kept_at > trusted_at
        },
    )


def renewed_bucket(line: Line) -> Bucket | None:
    """The last new bucket among a line's glazes; a glaze's first bucket is not new."""
    buckets = list(
        Bucket.objects.filter(glaze__coats=line.coats_id)
        .select_related("glaze")
        .order_by("mixed_date", "id")
    )
    first = {bucket.glaze_id: bucket.pk for bucket in reversed(buckets)}
    new = [bucket for bucket in buckets if bucket.pk != first[bucket.glaze_id]]
    return new[-1] if new else None


def proven_lot_before(line: Line) -> Line | None:
    """A line that is proven with an earlier delivery of the same body."""
    others = Line.objects.filter(
        clay_lot__body__iexact=line.clay_lot.body,
        clay_lot__received_date__lt=line.clay_lot.received_date,
        coats=line.coats_id,
        schedule=line.schedule_id,
        standing=Line.Standing.PROVEN,
    )
    return others.exclude(clay_lot=line.clay_lot_id).order_by("id").first()


def standings(*, kiln_id: int) -> dict[Kind, str]:
    """How each line stands for a load of this kiln: on trial in it since its elements or its
    thermocouple were changed, or because the studio lets each kiln prove a line."""
    waits = KilnTrial.objects.filter(line=OuterRef("pk"), kiln=kiln_id)
    lines = list(Line.objects.select_related("clay_lot").annotate(waits=Exists(waits)))
    found = {
        kind_of(one): "trial" if one.waits and one.standing == "proven" else str(one.standing)
        for one in lines
    }
    learnt = [one for one in lines if one.standing == Line.Standing.PROVEN and one.is_learnt]
    rule = proof_rule() if learnt else ProofRule()
    for line in learnt if rule.by_kiln else ():
        here = verdict_of(line, rule=rule, kiln_id=kiln_id).standing
        found[kind_of(line)] = "proven" if here == "proven" else "trial"
    return found


def bucket_of(glaze_id: int, *, on: date, buckets: Iterable[Bucket]) -> date | None:
    """When the bucket was mixed that a glaze came from on a day, if it is known."""
    mixed = [one.mixed_date for one in buckets if one.glaze_id == glaze_id and one.mixed_date <= on]
    return max(mixed, default=None)


def buckets_of(piece_ids: Iterable[int]) -> dict[int, list[tuple[str, date]]]:
    """Piece -> the glazes on it, clay first, and when the bucket of each was mixed."""
    ids = list(piece_ids)
    dipped = dict(
        Move.objects.filter(
            piece__in=ids, kind=Move.Kind.STEP, to_stage=Stage.GLAZED,
            change__undone_by__isnull=True,
        ).order_by("seq").values_list("piece_id", "at")
    )  # fmt: skip
    buckets = list(Bucket.objects.all())
    known = {bucket.glaze_id for bucket in buckets}
    layers = Coat.objects.filter(coats__piece__in=ids).select_related("glaze")
    by_coats: dict[int, list[Coat]] = {}
    for layer in layers.order_by("coats_id", "seq").distinct():
        by_coats.setdefault(layer.coats_id, []).append(layer)
    found: dict[int, list[tuple[str, date]]] = {}
    for piece_id, coats_id in Piece.objects.filter(id__in=ids).values_list("id", "coats_id"):
        day = timezone.localdate(dipped[piece_id]) if piece_id in dipped else None
        for layer in by_coats.get(coats_id or 0, []):
            glaze = layer.glaze
            mixed = bucket_of(glaze.pk, on=day, buckets=buckets) if day else None
            if mixed is None and glaze.pk not in known:
                mixed = glaze.mixed_date
            if mixed is not None:
                found.setdefault(piece_id, []).append((glaze.name, mixed))
    return found


def lab_results_of(line: Line) -> QuerySet[LabResult]:
    """What laboratories found of this glaze on this clay, so fired."""
    return LabResult.objects.filter(
        coats=line.coats_id, clay_lot=line.clay_lot_id, schedule=line.schedule_id
    ).select_related("coats", "clay_lot", "schedule")


@dataclass(frozen=True, kw_only=True, slots=True)
class Food:
    """What may be said of a line and food: the results on file and the caution beside them."""

    results: tuple[LabResult, ...]
    words: tuple[str, ...]
    caution: str


def food_of(line: Line) -> Food:
    """What is on file of a line's glaze on its clay, so fired. A crazed lining has no claim."""
    results = tuple(lab_results_of(line))
    seen = crazed(line)
    labs = [
        rules.Lab(
            lab=one.lab,
            tested_date=one.tested_date,
            method=one.method,
            measured=one.measured,
            result=f"{'under ' if one.is_below else ''}{one.result.normalize():f} {one.unit}",
            limit=""
            if one.limit is None or one.limit_date is None
            else (
                f"limit entered {one.limit.normalize():f} {one.unit}: {one.limit_source},"
                f" read {one.limit_date:%d %b %Y}"
            ),
            is_over=one.is_over,
        )
        for one in results
    ]
    over = sum(lab.is_over for lab in labs)
    return Food(
        results=results,
        words=() if seen else tuple(rules.lab_words(labs)),
        caution=rules.food_caution(
            holds_food=line.form.holds_food, results=len(labs), over=over, crazed=seen
        ),
    )


def food_words(pieces: Iterable[Piece]) -> str:
    """What a paper may say of these pieces and food: the tests on file for all of them, or none.

    Pieces that are not for food ask for nothing; a crazed lining has no test that counts.
    """
    told: list[str] = []
    for piece in pieces:
        if not piece.form.holds_food:
            continue
        line = Line.objects.filter(**kind_of(piece)._asdict()).select_related("form").first()
        results = food_of(line) if line else None
        if results is None or not results.words or results.caution:
            return rules.NO_LAB_RESULT
        for one in results.results:
            if (said := rules.lab_short(one.measured, one.lab, one.tested_date)) not in told:
                told.append(said)
    return f"Lab test on file: {'; '.join(told)}." if told else ""


def craze_date(piece: Piece, *, line: Line | None) -> date | None:
    """Until when a graded piece of a line that is not proven is looked at for late crazing.

    None when that is over, or there is nothing to wait for.
    """
    firing = piece.glaze_firing
    if piece.stage != Stage.GRADED or piece.parting or firing is None or firing.opened_at is None:
        return None
    if line is None or line.standing == Line.Standing.PROVEN:
        return None
    until = timezone.localdate(firing.opened_at) + timedelta(days=proof_rule().craze_days)
    return until if until > timezone.localdate() else None


def crazed(line: Line) -> int:
    """On how many pieces of a combination crazing was seen, whatever became of them."""
    seen = Fault.objects.filter(
        kind="craze",
        piece__clay_lot=line.clay_lot_id,
        piece__coats=line.coats_id,
        piece__schedule=line.schedule_id,
    )
    return seen.values("piece_id").distinct().count()
