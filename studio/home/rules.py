"""In which words is an undo refused before its room is even asked?"""

from __future__ import annotations

from studio.web.models import Change

CHANGED_AGAIN = "The settings were changed again since; change them on their page."


def refusal_to_undo(*, change: Change, done_already: bool) -> str:
    """Answer why a change cannot be undone, or nothing when its room may be asked."""
    if done_already:
        return f"“{change.said}” was undone already."
    if change.undo is None:
        return f"“{change.said}” has no way back; put it right with a new entry."
    return ""
