"""Why can this not be done? One sentence, for the page, the button and the test alike."""


class Refusal(ValueError):
    """Raised by a service that changes nothing; its text is the sentence a person reads."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence

    def __str__(self) -> str:
        return self.sentence


def refuse(sentence: str | None) -> None:
    """Raise the sentence a rule answered, if there is one."""
    if sentence:
        raise Refusal(sentence)
