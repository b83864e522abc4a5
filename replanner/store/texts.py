"""Dataclasses as JSON text and back, exactly; the only place that knows pydantic here."""

import json
from typing import Generic, TypeVar

from pydantic import TypeAdapter, ValidationError

from replanner.advice.briefing import Briefing
from replanner.dialogue.events import Memory
from replanner.dialogue.kept import KeptTalk
from replanner.errors import StoreError
from replanner.post import Body, PlanPicture, PlanTrack, PressAnswered, TextFile, Words

T = TypeVar("T")


class Texts(Generic[T]):
    """Writes one kind of dataclass as JSON and reads it again.

    Parameters
    ----------
    kind : type
        A frozen dataclass; every field comes back equal, instants with their offset.
    """

    def __init__(self, kind: type[T]) -> None:
        self._adapter = TypeAdapter(kind)

    def write(self, thing: T) -> str:
        """Return the thing as JSON text; infinities and NaN are written as Python does."""
        return json.dumps(self._adapter.dump_python(thing, mode="json"), ensure_ascii=False)

    def read(self, text: str, *, where: str) -> T:
        """Return the thing; raises StoreError naming `where` it stood if it is not sound."""
        try:
            return self._adapter.validate_python(json.loads(text), strict=False)
        except (ValidationError, ValueError) as error:
            raise StoreError(
                "what was kept cannot be read, another version may have written it",
                where=where,
                mend="make the plan again",
            ) from error


BRIEFINGS = Texts(Briefing)
MEMORIES = Texts(Memory)
TALKS = Texts(KeptTalk)

_BODIES: dict[str, Texts[Body]] = {
    kind.__name__: Texts(kind) for kind in (Words, PlanPicture, PlanTrack, TextFile, PressAnswered)
}


def write_body(body: Body) -> tuple[str, str]:
    """Return what a letter holds as its kind and its JSON text."""
    kind = type(body).__name__
    return kind, _BODIES[kind].write(body)


def read_body(kind: str, text: str, *, where: str) -> Body:
    """Return what a letter holds; raises StoreError naming `where` if it is not sound."""
    if kind not in _BODIES:
        raise StoreError(f"a newer version wrote a letter of kind {kind!r}", where=where)
    return _BODIES[kind].read(text, where=where)
