"""A demand on a day: what has to hold of any plan, told where some of them cannot hold together."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from enum import StrEnum
from typing import Generic, TypeVar

from replanner.trip.model import LegId

Named = TypeVar("Named")


class DemandKind(StrEnum):
    """What is demanded."""

    RIDE = "ride"  # the one leg; of several exactly one
    BEFORE = "before"  # the first leg before the second
    AT_MOST_ONE = "at most one"
    START_BY = "start by"
    END_BY = "end by"
    A_WAY = "a way"  # from the start to the end of the day
    TANK = "tank"  # the smallest lasts from fuel to fuel


@dataclass(frozen=True, slots=True, kw_only=True)
class Demand:
    """One demand.

    Parameters
    ----------
    kind : DemandKind
    legs : tuple of LegId
        The legs it speaks of.
    slot : int or None
        Of a limit of the day; counted in the slots of the problem.
    by : datetime or None
        The instant of that slot, UTC.
    lacking_km : float or None
        Of a tank: what it lacks at least on that leg (none: on the way to the day's end). [km]
    """

    kind: DemandKind
    legs: tuple[LegId, ...] = ()
    slot: int | None = None
    by: datetime | None = None
    lacking_km: float | None = None

    def __str__(self) -> str:
        """Return the demand in the ids and slots of a problem file, as `solve` tells it."""
        return _AS_IN_THE_FILE[self.kind](self)


@dataclass(frozen=True, slots=True)
class Clash(Generic[Named]):
    """Demands that cannot hold together, none of them to spare.

    Parameters
    ----------
    demands : tuple
    fewest : bool
        Whether any fewer demands can hold together; False: not known.
    """

    demands: tuple[Named, ...]
    fewest: bool


def _ride(demand: Demand) -> str:
    if len(demand.legs) == 1:
        return f"{demand.legs[0]!r} must be ridden"
    return f"exactly one of {_ids(demand)} must be ridden"


def _ids(demand: Demand) -> str:
    return ", ".join(repr(leg) for leg in demand.legs)


def _slot(demand: Demand) -> str:
    if demand.by is None:
        return f"slot {demand.slot}"
    return f"slot {demand.slot} ({demand.by.astimezone(UTC):%Y-%m-%d %H:%M} UTC)"


_AS_IN_THE_FILE: Mapping[DemandKind, Callable[[Demand], str]] = {
    DemandKind.RIDE: _ride,
    DemandKind.BEFORE: lambda demand: f"{demand.legs[0]!r} must come before {demand.legs[1]!r}",
    DemandKind.AT_MOST_ONE: lambda demand: f"at most one of {_ids(demand)} may be ridden",
    DemandKind.START_BY: lambda demand: f"the day must start by {_slot(demand)}",
    DemandKind.END_BY: lambda demand: f"the day must end by {_slot(demand)}",
    DemandKind.TANK: lambda demand: f"the tank must last ({demand.lacking_km} km short)",
    DemandKind.A_WAY: lambda _: "no way from the start to the end of the day",
}
