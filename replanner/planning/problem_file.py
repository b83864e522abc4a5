"""Read a day problem from `replanner-problem-1` and write it: text in, text out, no disk.

Every mistake is found and reported at once, each with its key path. Beyond the shape of the format
these are refused: places, slots and legs that are not there, prices that are not finite or beyond
a million minutes, a `before` that goes in a circle, a file whose arrays would not fit in memory.

Writing is the exact way back: the same problem gives the same bytes, and reading them gives the
same problem. Arrays that are equal in every slot are written as one number where the format allows.
"""

import json
from collections.abc import Mapping
from datetime import UTC
from typing import Any

import numpy as np

from replanner.errors import Fault, InputError
from replanner.planning.problem import (
    INFEASIBLE,
    NEVER,
    DayProblem,
    LegWay,
    Minutes,
    ProblemLeg,
    Slots,
)
from replanner.planning.problem_keys import Keys, describe
from replanner.planning.problem_reader import ProblemReader

FORMAT = "replanner-problem-1"

MOST_CHARACTERS = 64_000_000

_NEEDS = (
    "format",
    "slot_minutes",
    "first_slot",
    "slots",
    "travel_slots",
    "start",
    "end",
    "legs",
)
_MAY = (
    "travel_cost",
    "travel_cost_per_slot",
    "wait_cost_per_slot",
    "no_wait",
    "at_most_one",
    "exactly_one",
    "before",
    "own_order",
    "order_cost",
    "optimum",
)


def read_problem(source: str | bytes | Mapping[str, Any]) -> DayProblem:
    """Read a day problem.

    Parameters
    ----------
    source : str, bytes or mapping
        The file's text, or what its JSON holds.

    Returns
    -------
    DayProblem
        `optimum` is None if the file states none, `INFEASIBLE` (-inf) if it states null.

    Raises
    ------
    InputError
        Holding every fault found.
    """
    data = source if isinstance(source, Mapping) else _from_json(source)
    keys = Keys()
    if isinstance(data, Mapping) and data.get("format", FORMAT) != FORMAT:
        told = describe(data["format"])
        raise InputError(f"should be {FORMAT!r}, is {told}", where="format")
    top = keys.table(data, "", needs=_NEEDS, may=_MAY)
    if not top:
        keys.raise_if_faulty()
    reader = ProblemReader(keys, top)
    problem = reader.problem()
    keys.raise_if_faulty()
    return problem


def _from_json(text: str | bytes) -> Any:
    """Parse, with the line of a mistake; a key given twice is a mistake."""
    if len(text) > MOST_CHARACTERS:
        raise InputError(f"is longer than {MOST_CHARACTERS} characters", where="file")
    twice: list[Fault] = []

    def table(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
        found = dict(pairs)
        if len(found) < len(pairs):
            names = [name for name, _ in pairs]
            again = sorted({name for name in names if names.count(name) > 1})
            twice.extend(Fault(name, "key given twice in one object") for name in again)
        return found

    try:
        if isinstance(text, bytes):
            text = text.decode("utf-8")
        data = json.loads(text.removeprefix("\ufeff"), object_pairs_hook=table)
    except UnicodeDecodeError as error:
        line = error.object.count(b"\n", 0, error.start) + 1
        raise InputError("is not UTF-8 text", where=f"line {line}") from error
    except json.JSONDecodeError as error:
        where = f"line {error.lineno}, column {error.colno}"
        raise InputError(f"is not JSON: {error.msg}", where=where) from error
    except RecursionError as error:
        raise InputError("is nested too deep", where="file") from error
    except ValueError as error:
        raise InputError(f"holds a number too long to read: {error}", where="file") from error
    if twice:
        raise InputError.of(tuple(twice))
    return data


def write_problem(problem: DayProblem) -> str:
    """Write a day problem; the same problem gives the same text.

    Raises
    ------
    ValueError
        If a price is NaN, or infinite where the format has no null.
    """
    lines = [f"{json.dumps(key)}: {_json(value)}" for key, value in _head(problem).items()]
    legs = [f"  {_json(_leg(leg))}" for leg in problem.legs]
    lines.append('"legs": [' + ("\n" + ",\n".join(legs) + "\n" if legs else "") + "]")
    lines += [f"{json.dumps(key)}: {_json(value)}" for key, value in _demands(problem).items()]
    return "{\n" + ",\n".join(lines) + "\n}\n"


def _json(value: object) -> str:
    return json.dumps(value, allow_nan=False, separators=(",", ":"), ensure_ascii=False)


def _head(problem: DayProblem) -> dict[str, object]:
    start, end = problem.start_place, problem.end_place
    return {
        "format": FORMAT,
        "slot_minutes": problem.slot_minutes,
        "first_slot": problem.first_slot.astimezone(UTC).isoformat().replace("+00:00", "Z"),
        "slots": problem.slots,
        "travel_slots": [[_slots(cell) for cell in row] for row in problem.travel_slots],
        "travel_cost": [[_one(_prices(cell)) for cell in row] for row in problem.travel_cost],
        "wait_cost_per_slot": float(problem.wait_cost_per_slot),
        "no_wait": sorted(problem.no_wait),
        "start": {"place": start, "earliest": problem.earliest, "latest": problem.latest},
        "end": {"place": end, "by": problem.by, "late": _prices(problem.late)},
    }


def _demands(problem: DayProblem) -> dict[str, object]:
    demands: dict[str, object] = {
        "at_most_one": problem.at_most_one,
        "exactly_one": problem.exactly_one,
        "before": problem.before,
        "own_order": problem.own_order,
        "order_cost": float(problem.order_cost),
    }
    if problem.optimum is not None:
        infeasible = problem.optimum == INFEASIBLE
        demands["optimum"] = None if infeasible else float(problem.optimum)
    return demands


def _leg(leg: ProblemLeg) -> dict[str, object]:
    return {"id": leg.id, "must": leg.must, "ways": [_way(way) for way in leg.ways]}


def _way(way: LegWay) -> dict[str, object]:
    return {
        "from": way.start,
        "to": way.end,
        "ride_slots": _slots(way.ride_slots),
        "worth": _prices(way.worth),
    }


def _slots(values: Slots) -> object:
    return _one([None if value == NEVER else int(value) for value in values])


def _prices(values: Minutes) -> list[float | None]:
    return [None if np.isinf(value) else float(value) for value in values]


def _one(values: list[Any]) -> object:
    """One value where all are equal, else the list."""
    return values[0] if values.count(values[0]) == len(values) else values
