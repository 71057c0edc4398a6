"""What did an answer carry? Reading a streamed one to its end also closes its file."""

from typing import Any


def body(answer: Any) -> bytes:
    """Answer the bytes of an answer of the test client, streamed or not."""
    return b"".join(answer) if answer.streaming else bytes(answer.content)
