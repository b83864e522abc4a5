"""What a check of a tour gives: a mistake, by its key path, in a rider's words."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from replanner.errors import nearest

Path = tuple[str | int, ...]


@dataclass(frozen=True, slots=True)
class Mistake:
    """Something in a tour that does not fit together.

    Parameters
    ----------
    path : tuple of str or int
        Where it is, in keys as the tour file has them, e.g. ``("legs", "hask", "before", 0)``.
    what, mend : str
        What is wrong and how to mend it.
    """

    path: Path
    what: str
    mend: str


@dataclass(frozen=True, slots=True)
class Known:
    """What the tour file speaks of, also where it was too faulty to be read.

    Parameters
    ----------
    places, legs : frozenset of str
        Every id written.
    all_days : bool
        Whether every day written could be read.
    """

    places: frozenset[str]
    legs: frozenset[str]
    all_days: bool = True


def overlaps(spans: Sequence[tuple[float, float]]) -> list[tuple[int, int]]:
    """Return the places of spans that lie over each other: the earlier one, and the one over it."""
    ordered = sorted(enumerate(spans), key=lambda item: item[1][0])
    return [
        (first, second)
        for (first, (_, ends)), (second, (begins, _)) in pairwise(ordered)
        if begins < ends
    ]


def overlap(path: Path, first: str, second: str) -> Mistake:
    """Return the mistake that a section lies over another."""
    mend = "cut them so that each stretch belongs to one section"
    return Mistake(path, f"section {second} overlaps section {first}", mend)


def own_stand_in(path: Path) -> Mistake:
    """Return the mistake that a leg is its own stand-in."""
    return Mistake(path, "a leg cannot stand in for itself", "name another leg")


def joined_with_itself(path: Path) -> Mistake:
    """Return the mistake that a connector leads to where it begins."""
    return Mistake(path, "it joins a place with itself", "name two places")


def unknown_ids(path: Path, ids: Iterable[str], known: frozenset[str], kind: str) -> list[Mistake]:
    """Return a mistake for each id of a list that nothing is known under."""
    return [
        Mistake((*path, index), f"unknown {kind} {name!r}", nearest(name, known))
        for index, name in enumerate(ids)
        if name not in known
    ]


def unknown_id(path: Path, name: str | None, known: frozenset[str], kind: str) -> list[Mistake]:
    """Return a mistake if nothing is known under an id; None is never a mistake."""
    if name is None or name in known:
        return []
    return [Mistake(path, f"unknown {kind} {name!r}", nearest(name, known))]


def repeated(ids: Iterable[str]) -> Iterator[tuple[int, str]]:
    """Yield index and id of every item that was there before."""
    seen: set[str] = set()
    for index, name in enumerate(ids):
        if name in seen:
            yield index, name
        seen.add(name)
