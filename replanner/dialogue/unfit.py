"""A phrase of the table whose slot does not fit what was said."""

from replanner.dialogue.intent_types import Intent


class Unfit(Exception):  # noqa: N818 - not an error: the slot of one phrase did not fit
    """A slot does not fit; `answer` is what to say if no other phrase does."""

    def __init__(self, answer: Intent) -> None:
        super().__init__()
        self.answer = answer
