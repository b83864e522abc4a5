"""A tour file read into a tour, or every mistake in it told at once."""

from collections.abc import Collection
from pathlib import Path

from pydantic import ValidationError

from replanner.errors import Fault, InputError, nearest
from replanner.files.references import mistakes_in_faulty
from replanner.files.shape import faults_of
from replanner.files.sound_part import SoundPart, sound_part
from replanner.files.toml_text import TomlText, parse_toml, read_toml
from replanner.files.tour_build import build_tour
from replanner.files.tour_shape import TourShape
from replanner.trip.checks import Known, check_tour
from replanner.trip.model import Tour
from replanner.trip.timing import Speeds

_TOP = {"name": "tour", "zone": "UTC"}  # stands in for what is missing while the rest is checked


def load_tour(
    path: Path, speeds: Speeds | None = None, limit_names: Collection[str] | None = None
) -> Tour:
    """Read a tour file.

    Parameters
    ----------
    path : Path
    speeds : Speeds, optional
        For legs that give kilometres but no minutes; the defaults where not given.
    limit_names : collection of str, optional
        The limits a rider may tighten; where not given, own limits are not looked up.

    Returns
    -------
    Tour
        Consistent: every id used exists, every day can be ridden in the rider's own order.

    Raises
    ------
    InputError
        With every mistake of the file: where, what, how to mend it.
    """
    return tour_of(read_toml(path), speeds, limit_names)


def parse_tour(
    raw: bytes,
    name: str = "tour file",
    speeds: Speeds | None = None,
    limit_names: Collection[str] | None = None,
) -> Tour:
    """Read a tour from the bytes of a file; raises InputError as `load_tour` does."""
    return tour_of(parse_toml(raw, name), speeds, limit_names)


def tour_of(
    text: TomlText, speeds: Speeds | None = None, limit_names: Collection[str] | None = None
) -> Tour:
    """Make a tour of TOML already read; raises InputError as `load_tour` does."""
    speeds = speeds or Speeds()
    faults: list[Fault] = []
    try:
        TourShape.model_validate(text.table)
    except ValidationError as error:
        faults += faults_of(error, text, TourShape)
    part = sound_part(TourShape, text.table, _TOP)
    tour = build_tour(part.document, speeds)
    faults += _faults_between(tour, text, part)
    if limit_names is not None:
        faults += _unknown_limits(tour, text, part, limit_names)
    if faults:
        raise InputError.of(tuple(sorted(faults, key=lambda fault: _line(fault, text))))
    return tour


def _faults_between(tour: Tour, text: TomlText, part: SoundPart[TourShape]) -> list[Fault]:
    """Return the mistakes in how the sound parts fit together."""
    known = Known(
        places=_ids(text, "places"),
        legs=_ids(text, "legs"),
        all_days=not part.touches(("days",)),
    )
    found = []
    for mistake in check_tour(tour, known):
        path = part.in_file(mistake.path)
        # A thing whose own inside is wrong is not judged as a whole: that would be told twice.
        if not part.touches(path):
            found.append(Fault(text.where(path), mistake.what, mistake.mend))
    return found + [
        Fault(text.where(mistake.path), mistake.what, mistake.mend)
        for mistake in mistakes_in_faulty(text.table, part.removed, known)
    ]


def _ids(text: TomlText, table: str) -> frozenset[str]:
    found = text.table.get(table)
    return frozenset(found) if isinstance(found, dict) else frozenset()


def _unknown_limits(
    tour: Tour, text: TomlText, part: SoundPart[TourShape], names: Collection[str]
) -> list[Fault]:
    return [
        Fault(
            text.where(part.in_file(("riders", index, "own_limits", name))),
            f"unknown limit {name!r}",
            nearest(name, names),
        )
        for index, rider in enumerate(tour.riders)
        for name in rider.own_limits
        if name not in names
    ]


def _line(fault: Fault, text: TomlText) -> tuple[int, str]:
    """Sort by line, so that a rider can mend the file from top to bottom."""
    rest = fault.where.removeprefix(text.name)
    number = rest.removeprefix(", line ").partition(",")[0]
    return (int(number) if number.isascii() and number.isdigit() else 0, fault.where)
