"""Two people at the same moment, for tests: the second begins before the first has committed.

On PostgreSQL the first holds its rows meanwhile; on SQLite the second waits for its turn to write.
Either way the second must decide by what the first did, not by what stood there before.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Any

from django.db import connection, transaction

from studio.web.refusal import Refusal

HELD_SECONDS = 0.5


def while_held(first: Callable[[], Any], second: Callable[[], Any]) -> list[Any]:
    """Do the first in a transaction and the second before it ends; what each answered.

    An answer is a Refusal when it was refused. Any other error is answered too, to fail a test.
    """
    acted, answers = threading.Event(), [None, None]

    def lead() -> None:
        try:
            with transaction.atomic():
                answers[0] = first()
                acted.set()
                threading.Event().wait(HELD_SECONDS)
        except Exception as fault:
            answers[0] = fault
        finally:
            acted.set()
            connection.close()

    def follow() -> None:
        acted.wait(30)
        try:
            answers[1] = second()
        except Exception as fault:
            answers[1] = fault
        finally:
            connection.close()

    threads = [threading.Thread(target=lead), threading.Thread(target=follow)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    return answers


def told(answers: list[Any]) -> str:
    """What the second was told, after the first was done and the second refused."""
    first, second = answers
    assert not isinstance(first, Exception), answers
    assert isinstance(second, Refusal), answers
    return str(second)
