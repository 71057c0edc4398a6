"""Which paper tells one supporter of their turn, and shows nobody else?"""

from __future__ import annotations

from datetime import date

from studio.drawing.paper import Paper
from studio.drawing.turn_sheets import TurnSheet, turn_sheet_pdf
from studio.parcels import rules, selectors
from studio.parcels.models import Supporter
from studio.web.selectors import the_studio


def turn_paper(supporter: Supporter, *, today_date: date) -> bytes:
    """Why one supporter's next turn comes when it comes, as a PDF."""
    story = selectors.turn_story(supporter, today_date=today_date)
    studio = the_studio()
    paper: Paper = "Letter" if studio.paper == "Letter" else "A4"
    return turn_sheet_pdf(turn=_sheet(story, studio_name=studio.name, day=today_date), paper=paper)


def _sheet(story: selectors.TurnStory, *, studio_name: str, day: date) -> TurnSheet:
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
