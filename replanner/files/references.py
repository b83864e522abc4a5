"""What the sound fields of a faulty table speak of: mistakes in them are told in the same go.

A table that its shape refuses is taken out before the tour is built, so that nothing is said of
half a leg. What it names can be looked up all the same.
"""

from collections.abc import Callable, Collection, Iterator, Mapping
from typing import Any

from replanner.files.toml_text import KeyPath
from replanner.trip.mistakes import (
    Known,
    Mistake,
    joined_with_itself,
    overlap,
    overlaps,
    own_stand_in,
    repeated,
    unknown_id,
)

# Where ids stand in a tour file, and of what; "*" is any key or any item of a list.
_PLACE, _LEG = "place", "leg"
_REFERENCES: tuple[tuple[tuple[str, ...], str], ...] = (
    (("legs", "*", "start"), _PLACE),
    (("legs", "*", "end"), _PLACE),
    (("legs", "*", "via", "*"), _PLACE),
    (("legs", "*", "before", "*"), _LEG),
    (("legs", "*", "after", "*"), _LEG),
    (("legs", "*", "sections", "*", "place"), _PLACE),
    (("legs", "*", "halts", "*", "place"), _PLACE),
    (("legs", "*", "stand_in", "leg"), _LEG),
    (("legs", "*", "stand_in", "joins", "*", "place"), _PLACE),
    (("connectors", "*", "between", "*"), _PLACE),
    (("bases", "*", "place"), _PLACE),
    (("days", "*", "start"), _PLACE),
    (("days", "*", "end"), _PLACE),
    (("days", "*", "own_order", "*"), _LEG),
    (("days", "*", "optional", "*"), _LEG),
)
_LISTS_OF_LEGS = (("days", "*", "own_order"), ("days", "*", "optional"))


def mistakes_in_faulty(
    table: Mapping[str, Any], removed: Collection[KeyPath], known: Known
) -> list[Mistake]:
    """Return the mistakes in what tables taken out of a file speak of.

    Parameters
    ----------
    table : mapping
        The whole file.
    removed : collection of key path
        What was taken out of it.
    known : Known
        Every id of the file.
    """
    gone = frozenset(removed)

    def faulty(pattern: tuple[str, ...]) -> Iterator[tuple[KeyPath, Any]]:
        return (
            (path, value)
            for path, value in _at(table, pattern, ())
            if any(path[:depth] in gone for depth in range(1, len(path)))
        )

    found: list[Mistake] = []
    for pattern, kind in _REFERENCES:
        ids = known.places if kind == _PLACE else known.legs
        for path, value in faulty(pattern):
            if isinstance(value, str):
                found += unknown_id(path, value, ids, kind)
    for pattern in _LISTS_OF_LEGS:
        for path, legs in faulty(pattern):
            if isinstance(legs, list) and all(isinstance(leg, str) for leg in legs):
                found += [
                    Mistake(
                        (*path, at), f"leg {leg!r} is there twice", "a leg is ridden once a day"
                    )
                    for at, leg in repeated(legs)
                ]
    for pattern, check in _OF_ITSELF:
        for path, value in faulty(pattern):
            found += check(path, value)
    return found


def _sections(path: KeyPath, sections: Any) -> list[Mistake]:
    """Return a mistake for each section that ends before it begins or lies over another."""
    if not isinstance(sections, list):
        return []
    found, placed = [], {}
    for at, section in enumerate(sections):
        ends = section if isinstance(section, dict) else {}
        begins, ends_at = ends.get("from_fraction"), ends.get("to_fraction")
        if not isinstance(begins, (int, float)) or not isinstance(ends_at, (int, float)):
            continue
        if ends_at <= begins:
            what = f"the section runs from {begins:g} to {ends_at:g}"
            mend = "fractions rise from 0 at the start of the leg to 1 at its end"
            found.append(Mistake((*path, at), what, mend))
        else:
            placed[at] = (begins, ends_at)
    numbers, spans = list(placed), list(placed.values())
    for one, other in overlaps(spans):
        first, second = numbers[one], numbers[other]
        found.append(overlap((*path, second), str(first + 1), str(second + 1)))
    return found


def _stand_in(path: KeyPath, leg: Any) -> list[Mistake]:
    if leg != path[1]:
        return []
    return [own_stand_in(path)]


def _connector(path: KeyPath, between: Any) -> list[Mistake]:
    if not isinstance(between, list) or len(between) < 2 or between[1:] != between[:-1]:  # noqa: PLR2004 - two ends
        return []
    return [joined_with_itself(path)]


# What is told of a part by itself, and where such parts stand.
_OF_ITSELF: tuple[tuple[tuple[str, ...], Callable[[KeyPath, Any], list[Mistake]]], ...] = (
    (("legs", "*", "sections"), _sections),
    (("legs", "*", "stand_in", "leg"), _stand_in),
    (("connectors", "*", "between"), _connector),
)


def _at(value: Any, pattern: tuple[str, ...], path: KeyPath) -> Iterator[tuple[KeyPath, Any]]:
    """Give everything that lies where a pattern points."""
    if not pattern:
        yield path, value
        return
    step, *rest = pattern
    inner: Iterator[tuple[str | int, Any]] = iter(())
    if isinstance(value, dict):
        inner = iter(value.items()) if step == "*" else iter([(step, value.get(step))])
    elif isinstance(value, list) and step == "*":
        inner = iter(enumerate(value))
    for key, one in inner:
        if one is not None:
            yield from _at(one, tuple(rest), (*path, key))
