"""The smallest set of demands that cannot hold together, by what plans of the others break.

Each demand in turn is let go; where there is still no plan it was not to blame and stays let go.
What remains is a conflict of which every part is needed (the deletion filter: Chinneck, J. W. and
Dravnieks, E. W. (1991), "Locating minimal infeasible constraint sets in linear programs", ORSA
Journal on Computing 3, 157-168). It need not be the smallest.

Every plan breaks some of any set that cannot hold. So: guess the fewest demands of which each known
plan breaks one; where there is no plan that keeps the guess, it is the smallest such set, else the
plan found is one more to break (smallest unsatisfiable sets as least hitting sets: Ignatiev, A.,
Previti, A., Liffiton, M. and Marques-Silva, J. (2015), "Smallest MUS extraction with minimal
hitting set dualization", CP 2015, LNCS 9255, 173-182).
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

Demands = frozenset[int]

Broken = Callable[[Demands], Demands | None]
"""From demands to keep to those that a plan that keeps them breaks; None: there is no plan."""

UNKNOWN: Demands = frozenset()
"""Broken, where a search was given up; any plan breaks some, since none keeps all."""

# How many questions are asked for a smaller set, beside one a demand. Of sixty small days, tanks
# and tours each, 18 were enough but once, and 32 then; days of 16 legs, half of them musts, often
# take more. Assumption.
MOST_ASKED = 40


@dataclass(frozen=True, slots=True)
class Conflict:
    """Demands that cannot hold together, by their numbers.

    Parameters
    ----------
    demands : frozenset of int
        None of them to spare.
    fewest : bool
        Whether any fewer demands can hold together; False: not known.
    """

    demands: Demands
    fewest: bool


def fewest_conflict(count: int, broken: Broken) -> Conflict:
    """Find fewest demands that cannot hold together, where all of them cannot.

    Parameters
    ----------
    count : int
        Demands are numbered from 0 to below this; they are let go in that order.
    broken : callable
    """
    known = frozenset(range(count))
    plans: list[Demands] = []
    for one in range(count):
        breaks = broken(known - {one})
        if breaks is None:
            known -= {one}
        else:
            plans.append(breaks)
    return smallest_conflict(known, count, broken, plans)


def smallest_conflict(
    known: Demands, count: int, broken: Broken, plans: Sequence[Demands] = ()
) -> Conflict:
    """Find fewest demands that cannot hold together, from some that cannot.

    Parameters
    ----------
    known : frozenset of int
        Demands that cannot hold together, none to spare: told where no fewer are found.
    count : int
        Demands are numbered from 0 to below this.
    broken : callable
        Asked at most `MOST_ASKED` times.
    plans : sequence of frozenset of int
        What known plans break.
    """
    if len(known) < 2:  # noqa: PLR2004 - one demand alone has none to spare
        return Conflict(known, fewest=True)
    every, asked = frozenset(range(count)), 0
    plans = list(plans)
    while UNKNOWN not in plans:
        guess = _least_hitting(plans, len(known) - 1)
        if guess is None:
            return Conflict(known, fewest=True)
        if asked >= MOST_ASKED:
            break
        asked += 1
        breaks = broken(guess)
        if breaks is None:
            return Conflict(guess, fewest=True)
        for one in sorted(breaks):  # a plan that breaks fewer tells more
            if one in breaks and len(breaks) > 1 and asked < MOST_ASKED:
                asked += 1
                breaks = broken(every - breaks | {one}) or breaks
        plans.append(breaks)
    return Conflict(known, fewest=False)


def _least_hitting(sets: Sequence[Demands], most: int) -> Demands | None:
    """Return the fewest numbers of which each set holds one; None: that takes more than `most`."""
    for size in range(most + 1):
        found = _hitting(sets, frozenset(), size)
        if found is not None:
            return found
    return None


def _hitting(sets: Sequence[Demands], chosen: Demands, more: int) -> Demands | None:
    left = [one for one in sets if not one & chosen]
    if not left:
        return chosen
    if more == 0:
        return None
    shortest: Demands = min(left, key=len)
    for number in sorted(shortest):
        found = _hitting(left, chosen | {number}, more - 1)
        if found is not None:
            return found
    return None
