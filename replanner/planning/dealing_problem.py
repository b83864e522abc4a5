"""A tour as a problem: its days, and the legs that several of them share.

A shared leg is one that more than one day may ride, and is ridden on one of them at most. It is
known by its number in the tour; on a day it may be ridden by itself or by its stand-in.
"""

from dataclasses import dataclass

from replanner.planning.problem import DayProblem
from replanner.planning.tank import Tank


@dataclass(frozen=True, slots=True, kw_only=True)
class DayToDeal:
    """A day of the tour.

    Parameters
    ----------
    problem : DayProblem
        With each shared leg free to be ridden or not.
    rides : tuple of tuple of int
        By shared leg the legs of the problem any of which counts as riding it; none: it is not for
        this day. At most one of them is ridden.
    extra : tuple of float
        By shared leg what riding it on this day is worth beyond its worth in the problem. [min]
    tank : Tank or None
        No plan of the day may run dry on it; None: nothing runs dry.
    """

    problem: DayProblem
    rides: tuple[tuple[int, ...], ...]
    extra: tuple[float, ...]
    tank: Tank | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class TourProblem:
    """A tour to be dealt out.

    Parameters
    ----------
    days : tuple of DayToDeal
        At least one.
    musts : frozenset of int
        The shared legs that are ridden on exactly one day; each is for one day at least.
    """

    days: tuple[DayToDeal, ...]
    musts: frozenset[int] = frozenset()
