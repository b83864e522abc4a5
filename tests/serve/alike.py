"""What a run of `crash` has come to beside what it should have: texts, plans, conversations."""

import re
from collections.abc import Sequence
from dataclasses import fields, is_dataclass, replace
from difflib import ndiff
from itertools import zip_longest
from typing import Any

from replanner.advice.briefing import Briefing
from replanner.dialogue.kept import KeptTalk
from replanner.dialogue.state import Shown
from replanner.trip.edits import Demands
from tests.botapi.state import Delivery
from tests.serve.harness import DUE

_OF_FIGURES = (
    "value_minutes",
    "bound_minutes",
    "changes",
    "own_order",
    "plan_b",
    "decision_points",
    "odds",
    "hours",
    "spare_minutes",
)
AGAIN = "(again)"


def repeats_in(delivered: list[str], said: list[str], welcome: str) -> int | None:
    """Return how few repeats explain what was delivered; None: nothing does.

    A chat's letters come one after another, so a repeat, which must be marked, follows what it
    repeats. A marked text need not be one: what it repeats may never have arrived.
    """
    fewest: dict[int, int] = {0: 0}  # by how many were said
    words = [welcome, *said]
    for text in delivered:
        plain, after = text.removeprefix(AGAIN).lstrip(), dict[int, int]()
        for count, repeats in fewest.items():
            if count < len(said) and plain == said[count]:
                after[count + 1] = min(repeats, after.get(count + 1, repeats))
            if text.startswith(AGAIN) and plain == words[count].removeprefix(AGAIN).lstrip():
                after[count] = min(repeats + 1, after.get(count, repeats + 1))
        fewest = after
    return fewest.get(len(said))


def files_repeated(delivered: Sequence[Delivery]) -> int | None:
    """Return how often an evening's picture and GPX were sent more than once; None: one is missing.

    A repeat must be marked. A marked file need not be one.
    """
    repeats = 0
    for kind in ("photo", "document"):
        marked = [one.text.startswith(AGAIN) for one in delivered if one.kind == kind]
        if not marked or len(marked) - 1 > sum(marked):
            return None
        repeats += len(marked) - 1
    return repeats


def ageless(text: str) -> str:
    """Return a text without how old its data are: a real plan's age runs with the clock."""
    return re.sub(r"Data [^:]*:", "Data:", text)


def same(plan: Briefing | None) -> Briefing | None:
    if plan is None:
        return None
    # Figures of a plan made anew differ in the millionths: the forecast is seconds older.
    return replace(
        plan,
        made_at=DUE,
        origin=replace(plan.origin, fetched=DUE),
        **dict.fromkeys(_OF_FIGURES),  # type: ignore[arg-type]
        legs=tuple(replace(leg, severity=0.0, hazard=None) for leg in plan.legs),
        left_out=tuple(replace(leg, price_minutes=None) for leg in plan.left_out),
    )


def undated_talk(talk: KeptTalk) -> KeptTalk:
    """Return a conversation without the instants its plans were made at.

    What demands a plan accepted before was made under is not compared either: of that plan the
    store keeps the plan alone.
    """

    def undated(shown: Shown | None) -> Shown | None:
        plan = same(shown.briefing) if shown else None
        return replace(shown, briefing=plan) if shown and plan else None

    def accepted(shown: Shown | None) -> Shown | None:
        bare = undated(shown)
        return replace(bare, demands=Demands()) if bare else None

    history = tuple(
        replace(turn, shown=undated(turn.shown), accepted=accepted(turn.accepted))
        for turn in talk.history
    )
    return replace(
        talk,
        shown=undated(talk.shown),
        trial=undated(talk.trial),
        accepted=undated(talk.accepted),
        history=history,
    )


def unlike(one: KeptTalk, other: KeptTalk) -> list[tuple[str, Any, Any]]:
    names = [name.name for name in fields(KeptTalk)]
    both = [(name, getattr(one, name), getattr(other, name)) for name in names]
    unlike = [each for each in both if each[1] != each[2]]
    if [name for name, *_ in unlike] != ["history"]:
        return [(name, apart(mine, its)) for name, mine, its in unlike]
    turns = enumerate(zip_longest(one.history, other.history))
    return [(f"turn {n}", *apart(mine, its)) for n, (mine, its) in turns if mine != its]


def apart(one: Any, other: Any) -> Any:
    """Return where two things made of fields are not alike."""
    if type(one) is not type(other) or not is_dataclass(one):
        return one, other
    pairs = [(f.name, getattr(one, f.name), getattr(other, f.name)) for f in fields(one)]
    return [(name, apart(mine, its)) for name, mine, its in pairs if mine != its]


def difference(got: list[str], wanted: list[str]) -> str:
    differ = [pair for pair in zip_longest(got, wanted, fillvalue="") if pair[0] != pair[1]]
    lines = [line for one, other in differ for line in ndiff(one.split("\n"), other.split("\n"))]
    return "\n".join(("the rider was told (-), not (+)", *lines[:40]))
