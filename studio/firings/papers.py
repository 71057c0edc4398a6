"""What goes to the kiln's side on paper?"""

from __future__ import annotations

from datetime import timedelta
from typing import cast

from studio.drawing.load_pages import LevelOnPaper
from studio.drawing.load_sheets import LoadRow, LoadSheet, load_sheets_pdf
from studio.drawing.log_sheets import LogSheet, log_sheet_pdf
from studio.drawing.paper import Paper
from studio.firings import rules, selectors
from studio.firings.models import Firing, FiringLog
from studio.web.selectors import temperature_unit, the_studio
from studio.web.templatetags.web import temp

MARK = ", runny"
RUNNY = "Runny coats stand low, each pot on a catch tile."
MOST_CAUTIONS = 6
"""More would push the load off the page."""
STATES = {"planned": "planned", "loaded": "loading", "firing": "lit", "cooling": "cooling"}


def load_sheet(firing: Firing) -> bytes:
    """The sheet of one firing as a PDF: what goes in, the programme, room for what came out.

    A firing that holds nothing yet shows what it is planned for.
    """
    paper = cast(Paper, the_studio().paper)
    return load_sheets_pdf(sheets=[sheet_of(firing)], paper=paper)


def sheet_of(firing: Firing) -> LoadSheet:
    """The words and numbers of one firing's sheet."""
    fill, studio = selectors.firing_fill(firing), the_studio()
    cone = rules.cone_words(firing.schedule.cone, unit=temperature_unit())
    rows = _loaded(firing) or _planned(firing)
    runny = RUNNY if any(row.what.endswith(MARK) for row in rows) else ""
    told = [*rules.ON_PAPER[:-1], _there(firing), *(one for one in (runny, fill.caution) if one)]
    cautions, rest = tuple(told[:MOST_CAUTIONS]), told[MOST_CAUTIONS:]
    used = sum(row.places_tenths for row in rows)
    drawn = selectors.drawn_load_of(firing)
    return LoadSheet(
        kiln=firing.kiln.name,
        schedule=firing.schedule.name,
        start_date=firing.start_date,
        until_date=firing.start_date + timedelta(days=firing.busy_days - 1),
        state=STATES.get(firing.state, firing.get_state_display()),
        rows=rows,
        fill_percent=used * 100 // fill.room_tenths,
        cautions=cautions,
        programme_rows=tuple(
            (
                str(step.number),
                step.rate,
                temp(step.target_c),
                _hold(step.hold_min),
            )
            for step in selectors.steps_of(firing.schedule)
        ),
        cone_words=f"{cone[:1].upper()}{cone[1:]}: check the controller says the same.",
        curve=selectors.curve_of(firing.schedule),
        inches=studio.length_unit == "in",
        note="\n".join(part for part in (*rest, _no_place(drawn), firing.note) if part),
        studio_name=studio.name,
        levels=tuple(_level(card) for card in drawn.levels) if drawn else (),
        stack=drawn.stack if drawn else None,
    )


def _there(firing: Firing) -> str:
    """When somebody is there: by the clock where its rows can tell, else in general."""
    watch = selectors.watch_of(firing)
    return watch.words if watch else rules.ON_PAPER[-1]


def _no_place(drawn: selectors.DrawnLoad | None) -> str:
    if drawn is None or not drawn.left_out:
        return ""
    return f"No place was found for {', '.join(f'{n} {what}' for what, n in drawn.left_out)}."


def _level(card: selectors.LevelCard) -> LevelOnPaper:
    rows = tuple(
        (row.numbers, f"{row.what} ({row.note})" if row.note else row.what, str(row.count))
        for row in card.rows
    )
    return LevelOnPaper(words=card.words, picture=card.picture, rows=rows)


def _loaded(firing: Firing) -> tuple[LoadRow, ...]:
    """A row for each ware of each board, however its pieces went on since; bisque has no coats."""
    is_bisque = firing.schedule.kind == "bisque"
    standing = selectors.boards_in(firing)
    bodies: dict[str, set[str]] = {}
    for one in standing:
        bodies.setdefault(one.lot, set()).add(one.clay)
    rows: dict[tuple[str, str, int], LoadRow] = {}
    for one in standing:
        # Beside its coats the lot alone tells the clay, unless two clays here share its name.
        coats = "" if is_bisque else one.coats
        is_plain = coats and len(bodies[one.lot]) == 1
        clay = f"lot {one.lot}" if is_plain else one.clay
        what = ", ".join(part for part in (one.what, coats, clay) if part)
        what += MARK if one.is_runny and coats else ""
        key = (what, one.board.label, one.height_mm)
        before = rows.get(key)
        rows[key] = LoadRow(
            what=what,
            count=one.count + (before.count if before else 0),
            height_mm=one.height_mm,
            from_board=one.board.label,
            places_tenths=one.room_tenths + (before.places_tenths if before else 0),
        )
    return tuple(rows.values())


def _planned(firing: Firing) -> tuple[LoadRow, ...]:
    return tuple(
        LoadRow(
            what=", ".join(
                str(part) for part in (ware.form, ware.coats, ware.clay_lot) if part is not None
            ),
            count=ware.count,
            height_mm=selectors.going_in(ware.form, ware.clay_lot),
            from_board="planned",
            places_tenths=ware.count * ware.form.room_tenths,
        )
        for ware in firing.planned_wares.select_related("form", "clay_lot", "coats")
    )


def _hold(minutes: int) -> str:
    return f"{minutes} min" if minutes else "none"


def log_sheet(firing: Firing, log: FiringLog) -> bytes:
    """A firing's log as a PDF: the cone it reached, planned against logged, how it was read."""
    view, studio = selectors.log_view(firing, log), the_studio()
    cones = "; ".join(str(cone) for cone in firing.witness_cones.all())
    offset = f"; {view.offset} added, this kiln's own" if view.offset else ""
    told = [view.spread, f"Read from {log.file_name}: {log.kept_count} of {log.row_count} rows."]
    if view.longer is not None:
        told.insert(
            0,
            f"Heating took {view.longer.percent} % longer than usual"
            f" ({view.longer.usual_h:.1f} h).",
        )
    told += [
        f"No reading for {hours:.1f} h from {start:.1f} h on." for _, start, hours in view.gaps
    ]
    sheet = LogSheet(
        title=f"{firing.kiln.name}: {firing.schedule.name}",
        sentence=f"Log of the firing of {firing.start_date:%d %b %Y}",
        facts=(
            ("At the end of heating", str(view.reached.at_peak)),
            ("With the cooling", str(view.reached.with_cooling)),
            ("Highest", f"{temp(view.main.high_c)}{offset}"),
            ("Heated", f"{log.heated_h:.1f} h"),
            ("Witness cones", cones or "not read"),
        ),
        curve=view.curve,
        rows=tuple(
            (
                str(row.row),
                temp(row.target_c),
                f"{row.planned_h:.1f} h",
                "not reached" if row.logged_h is None else f"{row.logged_h:.1f} h",
                "" if row.logged_h is None else row.words,
            )
            for row in view.rows
        ),
        sensors=tuple(
            (one.name, temp(one.high_c), str(one.reached.with_cooling)) for one in view.sensors
        )
        if len(view.sensors) > 1
        else (),
        remarks=tuple(told),
        foot=" · ".join(part for part in (firing.kiln.name, log.file_name, studio.name) if part),
    )
    return log_sheet_pdf(log=sheet, paper=cast(Paper, studio.paper))
