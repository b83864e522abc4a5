"""Which legs a day may hold, which of them it must, and which stand in for which."""

from dataclasses import dataclass

from replanner.trip.edits import Demands
from replanner.trip.model import Day, LegId, Tour


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """The legs of a day as they enter its problem.

    Parameters
    ----------
    legs : tuple of LegId
        A stand-in comes right after its leg.
    musts : frozenset of LegId
        Ridden, whatever happens.
    exactly_one, at_most_one : tuple of (LegId, LegId)
        A leg and its stand-in.
    order : tuple of LegId
        The rider's own order; a stand-in counts in the place of its leg.
    before : tuple of (LegId, LegId)
        Where both are ridden, the first comes first.
    """

    legs: tuple[LegId, ...]
    musts: frozenset[LegId]
    exactly_one: tuple[tuple[LegId, LegId], ...]
    at_most_one: tuple[tuple[LegId, LegId], ...]
    order: tuple[LegId, ...]
    before: tuple[tuple[LegId, LegId], ...]


def choose_legs(tour: Tour, day: Day, demands: Demands) -> Choice:
    """Choose the legs a day may hold under the rider's demands.

    Closed legs are not ridden, whatever else is asked; legs left out or moved to another day
    neither. A must whose leg is closed or left out passes to its stand-in: the riders still have
    to get there. A leg forced is ridden itself, not its stand-in, on a day that lists either.
    """
    moved_here = {leg for leg, date in demands.moved if date == day.date}
    moved_away = {leg for leg, date in demands.moved if date != day.date} - moved_here
    out = demands.closed | moved_away | (demands.left_out - demands.forced)
    here = set(day.legs) | {_stand_in(tour, leg) for leg in day.legs}
    forced = demands.forced & here
    listed = tuple(dict.fromkeys((*day.legs, *sorted(moved_here), *sorted(forced))))
    wanted = {leg for leg in listed if _is_must(tour, day, leg)} | moved_here | forced
    musts: set[LegId] = set(forced - out)
    legs: list[LegId] = []
    exactly: list[tuple[LegId, LegId]] = []
    at_most: list[tuple[LegId, LegId]] = []
    order: list[LegId] = []
    for leg in listed:
        if leg not in out:
            legs.append(leg)
            order += [leg] * (leg in day.own_order)
        other = _stand_in(tour, leg)
        own_right = other in day.legs and _is_must(tour, day, other)
        if other is None or other in out or own_right or leg in musts | moved_away:
            if leg in wanted and leg not in out:
                musts.add(leg)
            continue
        if leg in out:
            if leg in wanted:
                musts.add(other)
            elif leg not in demands.closed:
                continue
        elif leg in wanted:
            exactly.append((leg, other))
        else:
            at_most.append((leg, other))
        legs.append(other)
        if leg in day.own_order and other not in day.own_order:
            order.append(other)
    legs = list(dict.fromkeys(legs))
    pairs = [(leg, after) for leg in legs for after in tour.legs[leg].before]
    return Choice(
        legs=tuple(legs),
        musts=frozenset(musts),
        exactly_one=tuple(exactly),
        at_most_one=tuple(at_most),
        order=tuple(dict.fromkeys(order)),
        before=tuple(
            dict.fromkeys(
                pair for pair in (*pairs, *sorted(demands.before)) if set(pair) <= set(legs)
            )
        ),
    )


def _is_must(tour: Tour, day: Day, leg: LegId | None) -> bool:
    """Return whether a listed leg has to be ridden: not where another day has it in its order."""
    if leg is None:
        return False
    elsewhere = any(leg in other.own_order for other in tour.days if other.date != day.date)
    return tour.legs[leg].must and (leg in day.own_order or not elsewhere)


def _stand_in(tour: Tour, leg: LegId) -> LegId | None:
    stand_in = tour.legs[leg].stand_in
    return None if stand_in is None else stand_in.leg
