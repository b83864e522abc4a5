"""A line that logs a day: "done: quern, brindle. missed gannet (fog)"."""

import re
from collections.abc import Iterator
from dataclasses import dataclass

from replanner.dialogue.intent_types import LogDay, Option, UnknownName, Which
from replanner.dialogue.names import Heard, find_name
from replanner.dialogue.topics import Topic
from replanner.trip.model import LegId

_CLAUSE = re.compile(
    r"\b(?P<verb>done|ridden|rode|finished|completed|did|missed|skipped|not done)\b\s*:?",
    re.IGNORECASE,
)
_WITH_COLON = re.compile(r"\s*[a-z ]+:", re.IGNORECASE)
_MISSED = frozenset({"missed", "skipped", "not done"})
_REMARK = re.compile(
    r"\(([^)]*)\)|\b(?:because of|because|due to)\b(.*)$", re.IGNORECASE | re.DOTALL
)
_BETWEEN = re.compile(r"\s*(?:,|;|&|\+|\band\b)\s*", re.IGNORECASE)
_EDGES = " \t\n.,;:!"
_LONGEST_REMARK = 120
_MOST_OPTIONS = 4
_NOTHING = frozenset({"none", "nothing", "all", "everything", "it all"})


@dataclass(frozen=True, slots=True)
class _Clause:
    missed: bool
    names: tuple[str, ...]
    remark: str


def read_log(
    text: str,
    names: dict[LegId, str],
    planned: frozenset[LegId],
) -> LogDay | Which | UnknownName | None:
    """Return what a line logs; None: it is no log.

    A single "done quern" or "missed the ferry" is a word of the road and none of the log: a log
    has a colon, several clauses, or tells why a leg was missed.

    Parameters
    ----------
    text : str
    names : dict of LegId to str
    planned : frozenset of LegId
        Legs of the plan: they are meant before others of the same name.
    """
    clauses = tuple(_clauses(text))
    if not clauses or not any(clause.names for clause in clauses):
        return None
    sure = len(clauses) > 1 or _WITH_COLON.match(text) is not None
    ridden: list[LegId] = []
    missed: list[tuple[LegId, str]] = []
    for clause in clauses:
        for said in clause.names:
            leg = _leg(said, names, planned)
            if not isinstance(leg, str):
                return _unclear(text, said, leg, names) if sure else None
            if clause.missed:
                missed.append((leg, clause.remark))
            else:
                ridden.append(leg)
    if not (sure or any(remark for _, remark in missed)):
        return None
    gone = {leg for leg, _ in missed}
    return LogDay(tuple(leg for leg in dict.fromkeys(ridden) if leg not in gone), tuple(missed))


def _leg(said: str, names: dict[LegId, str], planned: frozenset[LegId]) -> LegId | Heard:
    found = find_name(said, names)
    best = [leg for leg in found.best if leg in planned] or list(found.best)
    return best[0] if len(best) == 1 else found


def _unclear(text: str, said: str, found: Heard, names: dict[LegId, str]) -> Which | UnknownName:
    if not found.best:
        return UnknownName(said, found.near)
    options = (
        Option(names[leg], text.replace(said, names[leg], 1)) for leg in found.best[:_MOST_OPTIONS]
    )
    return Which(Topic.LOG, tuple(options))


def _clauses(text: str) -> Iterator[_Clause]:
    found = list(_CLAUSE.finditer(text))
    if not found or text[: found[0].start()].strip(_EDGES):
        return  # something was said before it: not a log
    for number, match in enumerate(found):
        end = found[number + 1].start() if number + 1 < len(found) else len(text)
        said = text[match.end() : end]
        remark = _REMARK.search(said)
        named = _REMARK.sub(" ", said).strip(_EDGES)
        named = re.sub(r"(?:\s|^)and$", "", named, flags=re.IGNORECASE)
        names = tuple(name for piece in _BETWEEN.split(named) if (name := piece.strip(_EDGES)))
        yield _Clause(
            missed=match["verb"].lower() in _MISSED,
            names=tuple(name for name in names if name.lower() not in _NOTHING),
            remark=_remark(remark),
        )


def _remark(found: re.Match[str] | None) -> str:
    if found is None:
        return ""
    said = (found.group(1) or found.group(2) or "").strip(_EDGES)
    return "".join(sign for sign in said if sign.isprintable())[:_LONGEST_REMARK]
