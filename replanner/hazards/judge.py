"""How bad a piece is for each start of each member.

What the hours say comes from a table of all passages there may be; only where sun, dusk or a
report say something as well is more put together.
"""

from typing import NamedTuple

import numpy as np

from replanner.hazards.both_ways import BothWays, HourReadings
from replanner.hazards.by_hour import HourTables, PassageHours, hour_tables
from replanner.hazards.by_minute import MinuteSays, minute_says, minutes_of
from replanner.hazards.combine import joined_by
from replanner.hazards.judging import Judging
from replanner.hazards.model import Booleans, Floats, Indices
from replanner.hazards.passage import hour_of
from replanner.hazards.passages import Passages, cells
from replanner.hazards.scene import Scene


class Judgement(NamedTuple):
    """The severity of a piece, shape (M, S), and hazards of which nothing is known throughout."""

    severity: Floats
    unknown: tuple[str, ...]


def judge(
    judging: Judging,
    scene: Scene,
    both: BothWays,
    readings: HourReadings,
    members: tuple[int, ...],
    passages: Passages,
    leave: Floats,
    stand_in: Booleans | None,
) -> Judgement:
    """Judge all passages by the hazards of the hour, as read, and by those of the minute.

    Parameters
    ----------
    leave : ndarray, shape (U,)
        When the piece is left at the latest. [min]
    stand_in : ndarray of bool, shape (U,), or None
        Whether a stand-in can be ridden instead; None: there is none.
    """
    nowhere = np.zeros(leave.shape, np.bool_)
    minutes = minutes_of(passages.enter, leave)
    said = tuple(
        minute_says(
            judging,
            both.minute_levels(scene, members, int(minutes.last.max())),
            minutes,
            nowhere if stand_in is None else stand_in,
        )
    )
    memory = scene.hourly.memory
    hours = PassageHours(hour_of(passages.enter) - memory, hour_of(leave) - memory)
    variants = 1 if stand_in is None else 2
    tables = hour_tables(
        judging,
        readings,
        hours,
        members,
        variants,
        apart=frozenset(each.hazard.kind for each in said),
    )
    place = hours.places(tables.members, stand_in, variants)
    at = cells(place, passages.number, hours.count if tables.members > 1 else 0)
    severity = tables.severity.take(at)
    if said:
        _add(judging, said, tables, at, passages.number, severity)
    unknown = _unknown_by_hour(tables, readings, hours, members, passages.number, at)
    unknown += tuple(
        each.hazard.name for each in said if _unknown_throughout(each, passages.number)
    )
    return Judgement(severity, unknown)


def _add(
    judging: Judging,
    said: tuple[MinuteSays, ...],
    tables: HourTables,
    at: Indices,
    number: Indices,
    severity: Floats,
) -> None:
    """Judge anew, in place, the starts of which a hazard of the minute says something as well."""
    touched = np.logical_or.reduce([each.says for each in said])
    chosen = touched.take(number).ravel().nonzero()[0]
    member, passage = chosen // number.shape[1], number.take(chosen)
    place = at.take(chosen)
    responses = {kind: table.take(place) for kind, table in tables.apart.items()}
    unknown = tables.unknown.take(place)
    for each in said:
        kind = each.hazard.kind
        response = each.at(each.response, passage, member)
        responses[kind] = np.maximum(responses[kind], response) if kind in responses else response
        if each.unknown.any():
            unknown |= each.at(each.unknown, passage, member)
    worst, second = tables.worst.take(place), tables.second.take(place)
    for response in responses.values():
        worst, second = joined_by(response, worst, second)
    severity.ravel()[chosen] = judging.severity(worst, second, unknown)


def _unknown_by_hour(
    tables: HourTables,
    readings: HourReadings,
    hours: PassageHours,
    members: tuple[int, ...],
    number: Indices,
    at: Indices,
) -> tuple[str, ...]:
    """Return the hazards of the hour that are not known at any start of any member."""
    if not tables.unknown[at[0, 0]]:  # most often all is known at the first start
        return ()
    found = []
    for hazard, reading in readings:
        missing = np.isnan(reading.level)
        if missing.any():
            rows, known = hours.hold_throughout(~missing, members)
            here = cells(hours.places(rows), number, hours.count if rows > 1 else 0)
            if not known.take(here).any():
                found.append(hazard.name)
    return tuple(found)


def _unknown_throughout(said: MinuteSays, number: Indices) -> bool:
    if not said.unknown.any():
        return False
    member = np.arange(number.size) // number.shape[1]
    for some in (slice(1), slice(None)):  # most often the first start tells
        if not said.at(said.unknown, number.ravel()[some], member[some]).all():
            return False
    return True
