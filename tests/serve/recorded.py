"""Plans of the real planner, made once and kept: for runs in which planning is not the question."""

import hashlib
import os
import pickle
from collections.abc import Callable
from dataclasses import fields, is_dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

from replanner import making
from replanner.advice.briefing import Briefing
from replanner.errors import InputError, NoPlanError, ReplannerError
from replanner.making import Order

PLANS_VARIABLE = "TEST_PLANS"

Plan = Callable[[Order], Briefing]


def recorded(plan: Plan) -> Plan:
    """Return a planner that asks the given one only for what no run has asked for before.

    What is kept is what the planner said of the first such order, also that there is no plan;
    only the instants it was made and its forecast fetched at are the present one.
    """
    folder = Path(os.environ[PLANS_VARIABLE])

    def take(order: Order) -> Briefing:
        request = replace(order.request, trial=False, wish=False, why_asked="")
        asked = f"{order.tour_text}{_written(request)}"
        name = hashlib.sha256(asked.encode()).hexdigest()
        kept = folder / f"{name}.plan"
        if kept.exists():
            found = pickle.loads(kept.read_bytes())  # noqa: S301 - written by a run of ours
        else:
            found = _made(plan, order)
            half = folder / f"{name}.{os.getpid()}"
            half.write_bytes(pickle.dumps(found))
            half.replace(kept)
        if isinstance(found, ReplannerError):
            raise found
        assert isinstance(found, Briefing)
        return _dated(found, order)

    return take


_REAL = making.plan


def fresh(order: Order) -> Briefing:
    """Make a plan as `making.plan` does, its forecast fetched when the bot's own clock says so.

    Forecasts are fetched by the clock on the wall. Months beside the scene's it would make them
    old, and how old they are told to be takes room in a message.
    """
    return _dated(_REAL(order), order)


def _dated(found: Briefing, order: Order) -> Briefing:
    origin = replace(found.origin, fetched=order.now)
    return replace(found, made_at=order.now, origin=origin)


def plan(order: Order) -> Briefing:
    """Make a plan as `making.plan` does, or take it: workers find this one by its name."""
    return recorded(_REAL)(order)


def _written(thing: object) -> str:
    """Return the same words for the same order, whichever process asks: sets have no order."""
    if is_dataclass(thing):
        told = [f"{one.name}={_written(getattr(thing, one.name))}" for one in fields(thing)]
        return f"{type(thing).__name__}({','.join(told)})"
    if isinstance(thing, frozenset):
        return f"{{{','.join(sorted(_written(one) for one in thing))}}}"
    if isinstance(thing, tuple):
        return f"({','.join(_written(one) for one in thing)})"
    if isinstance(thing, datetime):
        return thing.astimezone(UTC).isoformat()  # whatever kind of object its zone is
    return repr(thing)


def _made(plan: Plan, order: Order) -> Briefing | ReplannerError:
    try:
        return plan(order)
    except (InputError, NoPlanError) as error:  # of the order; a forecast may come yet
        return error
