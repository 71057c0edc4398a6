"""Say how far a line is to be trusted: by the records, or on the potter's word."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, datetime
from typing import Any

from django.contrib.auth.models import User
from django.db import IntegrityError, transaction
from django.utils import timezone

from studio.craft.standing import Verdict, proof_sizes
from studio.wares import rules, selectors
from studio.wares.models import Bucket, Glaze, KilnTrial, Line, Piece, ProofRule
from studio.wares.selectors import Combination, combination_of
from studio.web.models import Change
from studio.web.refusal import Refusal, refuse
from studio.web.services import record

WORDS = {value: str(word).lower() for value, word in Line.Standing.choices}
STOOD = ("standing", "is_learnt", "word", "word_at")


def can_call(*, line: str, now: str, wanted: str, is_waiting: bool = False) -> str:
    """Whether a line that is ``now`` untried, trial or proven may be called ``wanted``.

    ``is_waiting``: it is on trial in a kiln, so that calling it proven says something.
    """
    if wanted not in WORDS:
        return f"“{wanted}” is no standing of a line: it is {', '.join(WORDS.values())}."
    if wanted == now and not (is_waiting and now == Line.Standing.PROVEN):
        return f"{line} is {WORDS[now]} already."
    return ""


@transaction.atomic
def set_standing(*, line: Line, standing: str, by: User, at: datetime) -> Change:
    """Call a line untried, on trial or proven. The change's subject is the line. Raises Refusal."""
    now = (
        Line.objects.select_for_update(of=("self",))
        .select_related("form", "clay_lot", "coats", "schedule")
        .get(pk=line.pk)
    )
    name = f"{now} to {now.schedule}"
    waiting = now.kiln_trials.exists()
    refuse(can_call(line=name, now=now.standing, wanted=standing, is_waiting=waiting))
    before = _columns(now)
    now.standing = standing
    now.is_learnt, now.word, now.word_at = False, "", at
    now.save(update_fields=list(STOOD))
    try_again_in_kilns(now)
    return record(
        room="wares",
        action="standing",
        said=f"{name} is {WORDS[standing]} now",
        by=by,
        at=at,
        subject="line",
        subject_id=now.pk,
        undo={"entry": ["line", now.pk], "before": before, "after": _columns(now)},
    )


def restand(combinations: Iterable[Combination], *, change: Change, keep: bool = True) -> None:
    """Let the lines of these combinations stand as their records say, as a part of ``change``.

    ``keep``: leave in the change what ``stand_back`` needs; an undoing has no way back itself.
    """
    rule = selectors.proof_rule()
    kept = []
    for combination in sorted(set(combinations)):
        lines = (
            Line.objects.select_for_update(of=("self",))
            .select_related("clay_lot")
            .filter(**combination._asdict())
        )
        for line in lines.order_by("id"):
            verdict = selectors.verdict_of(line, rule=rule)
            _keep_kiln_trials(line, verdict)
            borne_out = verdict.standing == "proven" and not verdict.is_word
            if verdict.standing == line.standing and (line.is_learnt or not borne_out):
                continue
            before = _stood(line)
            line.word = line.word if line.is_learnt else line.standing
            line.standing, line.is_learnt = verdict.standing, True
            line.save(update_fields=list(STOOD))
            kept.append([line.pk, before, _stood(line)])
    if kept and keep:
        undo = dict(change.undo or {})
        change.undo = {**undo, "standings": [*undo.get("standings", []), *kept]}
        change.save(update_fields=["undo"])


def try_again_in_kilns(line: Line) -> None:
    """Keep in which kilns a line is on trial since their parts were changed, as its record says."""
    _keep_kiln_trials(line, selectors.verdict_of(line))


def _keep_kiln_trials(line: Line, verdict: Verdict) -> None:
    KilnTrial.objects.filter(line=line).delete()
    KilnTrial.objects.bulk_create(
        KilnTrial(line=line, kiln_id=kiln_id, said=said[:300]) for kiln_id, said in verdict.kilns
    )


def restand_pieces(piece_ids: Sequence[int], *, change: Change, keep: bool = True) -> None:
    """``restand`` for the combinations of these pieces; those without coats have none."""
    found = Piece.objects.filter(
        id__in=piece_ids, coats__isnull=False, schedule__isnull=False
    ).values_list("clay_lot_id", "coats_id", "schedule_id")
    restand(
        {Combination(clay, coats or 0, fire or 0) for clay, coats, fire in found},
        change=change,
        keep=keep,
    )


def stand_back(standings: Sequence[Any], *, undoing: Change) -> None:
    """Put lines back that an undone change let stand otherwise, then read the records again.

    A line that was called otherwise since keeps that word.
    """
    combinations = []
    for line_id, before, after in reversed(standings):
        line = Line.objects.select_for_update().filter(pk=line_id).first()
        if line is None:
            continue
        combinations.append(combination_of(line))
        if _stood(line) == after:
            line.standing, line.is_learnt, line.word = before[:3]
            line.word_at = datetime.fromisoformat(before[3]) if before[3] else None
            line.save(update_fields=list(STOOD))
    restand(combinations, change=undoing, keep=False)


@transaction.atomic
def new_bucket(*, glaze: Glaze, mixed_date: date, note: str = "", by: User, at: datetime) -> Change:
    """Record that a new bucket of a glaze is in use: what it proved is on trial. Raises Refusal."""
    now = Glaze.objects.select_for_update().get(pk=glaze.pk)
    refuse(
        rules.can_mix(
            glaze=now.name,
            mixed_date=mixed_date,
            last_date=now.mixed_date,
            today_date=timezone.localdate(at),
        )
    )
    was = now.mixed_date
    Bucket.objects.get_or_create(glaze=now, mixed_date=was, defaults={"kept_at": at})
    bucket = Bucket.objects.create(glaze=now, mixed_date=mixed_date, note=note, kept_at=at)
    now.mixed_date = mixed_date
    now.save(update_fields=["mixed_date"])
    change = record(
        room="wares",
        action="bucket",
        said=f"New bucket of {now}, mixed {mixed_date:%d %b %Y}",
        by=by,
        at=at,
        subject="glaze",
        subject_id=now.pk,
        undo={"bucket": [bucket.pk, mixed_date.isoformat(), was.isoformat()]},
    )
    lines = Line.objects.filter(coats__glazes=now).distinct()
    restand((combination_of(line) for line in lines), change=change)
    return change


def pour_away(kept: Sequence[Any]) -> None:
    """Undo a new bucket while it is the last one. Raises Refusal."""
    bucket_id, mixed, was = kept
    bucket = Bucket.objects.select_related("glaze").filter(pk=bucket_id).first()
    if bucket is None or bucket.glaze.mixed_date != date.fromisoformat(mixed):
        raise Refusal(rules.too_late_to_undo("the glaze has another bucket now."))
    glaze = bucket.glaze
    bucket.delete()
    if glaze.buckets.count() == 1:
        glaze.buckets.all().delete()
    glaze.mixed_date = date.fromisoformat(was)
    glaze.save(update_fields=["mixed_date"])


@transaction.atomic
def set_proof_rule(
    *,
    firings: int,
    pieces: int,
    good_percent: int,
    confirming: int,
    by_kiln: bool,
    craze_days: int,
    by: User,
    at: datetime,
) -> Change:
    """Say what proves a line, and let every line stand by it. Raises Refusal."""
    refuse(
        proof_sizes(
            firings=firings, pieces=pieces, good_percent=good_percent, confirming=confirming
        )
        or rules.craze_days(craze_days)
    )
    rule = selectors.proof_rule()
    before = None if rule._state.adding else _rule(rule)
    rule.firings, rule.pieces, rule.good_percent = firings, pieces, good_percent
    rule.confirming, rule.by_kiln, rule.craze_days = confirming, by_kiln, craze_days
    try:
        with transaction.atomic():
            rule.save()
    except IntegrityError:
        raise Refusal("These cannot be kept. Look at the numbers and try again.") from None
    change = record(
        room="wares",
        action="proof_rule",
        said=(
            f"A line is proven after {firings} firings and {pieces} pieces, when at least"
            f" {good_percent} in 100 come out good"
        ),
        by=by,
        at=at,
        subject="proof rule",
        subject_id=1,
        undo={"rule": [before, _rule(rule)]},
    )
    restand((combination_of(line) for line in Line.objects.all()), change=change)
    return change


def put_rule_back(kept: Sequence[Any]) -> None:
    """Undo a change of the proof rule, while it stands as that change left it. Raises Refusal."""
    before, after = kept
    rule = ProofRule.objects.select_for_update().filter(pk=1).first()
    if rule is None or _rule(rule) != after:
        raise Refusal(rules.too_late_to_undo("what proves a line was changed since."))
    if before is None:
        rule.delete()
        return
    for name, value in before.items():
        setattr(rule, name, value)
    rule.save()


def _rule(rule: ProofRule) -> dict[str, Any]:
    return {field.attname: getattr(rule, field.attname) for field in rule._meta.concrete_fields}


def _stood(line: Line) -> list[Any]:
    at = line.word_at.isoformat() if line.word_at else None
    return [str(line.standing), line.is_learnt, str(line.word), at]


def _columns(line: Line) -> dict[str, Any]:
    """What the catalogue's way back compares and restores."""
    columns = [column for column in line._meta.concrete_fields if not column.primary_key]
    image = {column.attname: getattr(line, column.attname) for column in columns}
    image["word_at"] = line.word_at.isoformat() if line.word_at else None
    return image
