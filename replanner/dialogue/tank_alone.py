"""A full tank told together with what says no more: "fuelled up, all good", "off again, tank full".

"All good" by itself accepts a plan. Beside a full tank it is of the tank, so a line that tells of
one is cut down to it before it is tried as anything else. Coffee and the like belong to the stop
where they are told as over: riders have had them, or are on their way.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache
from itertools import combinations

from replanner.dialogue.matching import could_tell_of, matches
from replanner.dialogue.topics import Topic

_AGREEING = frozenset({Topic.YES, Topic.OK, Topic.ACCEPT})
# No phrases of their own: by itself "on our way" may be the way home, "leaving" an hour of leaving.
_GOING_ON = re.compile(
    r"(?:(?:moving|heading|setting|carrying|riding|rolling|pressing|pushing|going|getting)"
    r"(?: on| off| out| away)?|leaving|continuing|onwards|hitting road|off|away|go|roll|ride on"
    r"|off go"
    r"|(?:back )?on (?:road|way|move|bike|bikes)|back in saddle)(?: again| now)*"
)
_HAVING = """
coffee coffees caffeine tea drink drinks water food lunch breakfast snack snacks sandwich sandwiches
cake pie ice cream pee wee loo toilet toilets leg legs belly bellys bellies full
bite some quick bit of
"""
# What riders have at a stop; with a word of the second list they have had it.
_OF_THE_STOP = frozenset(_HAVING.split())
_HAD = frozenset(
    {"had", "grabbed", "ate", "eaten", "fed", "watered", "drank", "bought", "stretched", "rested"}
)
# Over for who goes on; by itself it is a stop that has begun.
_STOPPED = frozenset(("stopped", "for", fuel) for fuel in ("fuel", "petrol", "gas"))
_FULL = ("filled", "up")
_JOINING = frozenset({"and", "then", "now", "plus"})
_MOST_WORDS = 10  # who writes more may say more


class _Kind(StrEnum):
    """What words beside a full tank tell that is no more than that."""

    AGREES = "agrees"
    GOES_ON = "goes on"
    STOP = "stop"
    HAD = "had"


@dataclass(frozen=True, slots=True)
class TankAlone:
    """The words of a line that count, and whether riders go on at once who have filled up."""

    words: tuple[str, ...]
    going_on: bool = False


def tank_alone(words: Sequence[str], names: frozenset[str]) -> TankAlone:
    """Return the words of a line that tell of a full tank if all others say no more; else all.

    Parameters
    ----------
    words : sequence of str
        The line, without noise.
    names : frozenset of str
        Words that names of the tour are made of.
    """
    words = tuple(words)
    if len(words) > _MOST_WORDS or not _could_be_full(words, names):
        return TankAlone(words)
    for begin, end in combinations(range(len(words) + 1), 2):
        full = words[begin:end]
        if full not in _STOPPED and not _is_full(full, names):
            continue
        before, after = _kinds(words[:begin], names), _kinds(words[end:], names)
        if before is None or after is None:
            continue
        kinds = before | after
        going_on = _Kind.GOES_ON in kinds
        if going_on or (full not in _STOPPED and _Kind.STOP not in kinds):
            return TankAlone(_FULL if full in _STOPPED else full, going_on)
    return TankAlone(words)


def _could_be_full(words: tuple[str, ...], names: frozenset[str]) -> bool:
    """Tell whether any part of a line could tell of fuel: most lines have no word of it."""
    stopped = any(set(words) >= set(one) for one in _STOPPED)
    return stopped or could_tell_of(Topic.FILLED, words, names)


def _is_full(words: tuple[str, ...], names: frozenset[str]) -> bool:
    return any(match.topic is Topic.FILLED for match in matches(words, names)[:1])


@lru_cache(maxsize=2_000)
def _kinds(words: tuple[str, ...], names: frozenset[str]) -> frozenset[_Kind] | None:
    """Return what words tell, one thing or several; None: something more."""
    while words and words[0] in _JOINING:
        words = words[1:]
    while words and words[-1] in _JOINING:
        words = words[:-1]
    if not words:
        return frozenset()
    kind = _kind(words, names)
    if kind is not None:
        return frozenset({kind})
    for cut in range(1, len(words)):
        first, rest = _kinds(words[:cut], names), _kinds(words[cut:], names)
        if first is not None and rest is not None:
            return first | rest
    return None


def _kind(words: tuple[str, ...], names: frozenset[str]) -> _Kind | None:
    if _GOING_ON.fullmatch(" ".join(words)):
        return _Kind.GOES_ON
    if not set(words) & names and set(words) <= _OF_THE_STOP | _HAD | _JOINING:
        return _Kind.HAD if _HAD & set(words) else _Kind.STOP
    topics = {match.topic for match in matches(words, names) if not match.slots}
    if Topic.MOVING in topics:
        return _Kind.GOES_ON
    return _Kind.AGREES if topics & _AGREEING else None
