"""Where the riders are when no position was shared: by the plan in force and the time it is said.

A line counts from the moment it was sent. What is only reckoned is told as such.
"""

from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from replanner.advice.briefing import Briefing, PlannedLeg
from replanner.advice.names import clean
from replanner.dialogue.road_book import RoadLeg, straight_km
from replanner.dialogue.road_told import in_force
from replanner.dialogue.since_break import rest_over, ridden_minutes
from replanner.dialogue.state import Shown, State
from replanner.trip.model import LegId, LegKind, PlaceId, Way
from replanner.trip.part_of_leg import LEAST_SHARE
from replanner.trip.passage import in_way
from replanner.trip.rest_of_day import back_over
from replanner.trip.timing import BREAK_MINUTES
from replanner.trip.underway import OnLeg, Underway

# A live position is believed this long; after that the plan tells better. Assumption.
LIVE_LASTS = timedelta(minutes=20)
_AT_ONCE = timedelta(0)
# Who halts where a leg begins is on it, and has that halt behind him when he rides on.
_BEGUN = 2 * LEAST_SHARE


@dataclass(frozen=True, slots=True, kw_only=True)
class Stand:
    """Where the riders are taken to be.

    Parameters
    ----------
    underway : Underway
    told : str
        In one sentence.
    ahead : tuple of PlannedLeg
        Legs of the plan in force that are not begun yet, in order.
    """

    underway: Underway
    told: str
    ahead: tuple[PlannedLeg, ...]

    @property
    def leg(self) -> LegId | None:
        """The leg they are on."""
        return self.underway.on_leg.leg if self.underway.on_leg else None


def today(state: State, sent: datetime) -> bool:
    """Tell whether a line was sent on the day spoken about."""
    return sent.astimezone(state.book.tz).date() == state.day


def stand(state: State, sent: datetime, behind: timedelta = _AT_ONCE) -> Stand | None:
    """Return where the riders are.

    A position told after the plan was made counts; a live one only for a while.

    Parameters
    ----------
    sent : datetime
        When it was said, UTC-aware.
    behind : timedelta
        How far behind the plan they are.

    Returns
    -------
    Stand or None
        None: it was not said on that day, or there is no plan to reckon by.
    """
    if not today(state, sent):
        return None
    plan, known = in_force(state), state.demands.underway
    made_from = plan.demands.underway if plan else None
    newer = known is not None and known != made_from
    if known is not None and newer and (made_from is None or known.at >= made_from.at):
        fresh = sent - known.at <= LIVE_LASTS
        if not known.live or fresh:
            return _told(state, _as_known(known, sent), plan, by_plan=False)
    if plan is None:
        return None
    reckoned = by_plan(state, plan, sent, behind)
    if reckoned is None:
        if known is None:
            return None
        return _told(state, _as_known(known, sent), plan, by_plan=False)
    ridden = reckoned.ridden | (known.ridden if known else frozenset())
    return _told(state, replace(reckoned, ridden=ridden), plan, by_plan=True)


def _as_known(known: Underway, sent: datetime) -> Underway:
    """Return riders as they were last known; who was not seen for long may have ridden since."""
    stays = known.in_the_morning and sent - known.at <= LIVE_LASTS
    here = replace(known, at=max(sent, known.at), ready=max(sent, known.ready))
    return replace(here, in_the_morning=stays)


def by_plan(
    state: State, plan: Shown, sent: datetime, behind: timedelta = _AT_ONCE
) -> Underway | None:
    """Return where a plan has the riders, or had them `behind` ago; None: nowhere."""
    found = _reckoned(state, plan, sent, behind)
    if found is None or (found.on_leg or found.place or found.point) is None:
        return None
    return found


def _reckoned(state: State, plan: Shown, sent: datetime, behind: timedelta) -> Underway | None:
    briefing, moment = plan.briefing, sent - behind
    if briefing.departure is None:
        return None
    made_from = plan.demands.underway
    done = made_from.ridden if made_from else frozenset()
    begun = [leg for leg in briefing.legs if leg.start <= moment]
    over = frozenset(leg.id for leg in begun if leg.end <= moment)
    ridden = done | (over & frozenset(dict(state.book.names)))
    fills_up = any(leg.fills_up_by(leg.share_by(moment)) for leg in begun)
    at = Underway(
        at=sent,
        ready=sent,
        ridden=ridden,
        place=_begins(state, plan),
        in_the_morning=not begun and (made_from is None or made_from.in_the_morning),
        tank_km=_known_and_ridden_km(state, plan, moment),
        tank_told_km=made_from.tank_told_km if made_from and not fills_up else None,
        ridden_minutes=ridden_minutes(
            briefing.legs,
            briefing.departure,
            moment,
            made_from.ridden_in_one_go(BREAK_MINUTES) if made_from else 0.0,
        ),
    )
    if made_from is not None and made_from.place is None and not begun:
        at = replace(at, place=None, on_leg=made_from.on_leg, point=made_from.point)
        at = replace(at, turning_back=made_from.turning_back)
    if moment < briefing.departure:
        held = made_from.ready + behind if made_from else sent
        late = briefing.departure + behind if behind else sent
        return replace(at, ready=max(sent, held, late))
    following = briefing.legs[len(begun) :]
    if begun and begun[-1].end > moment:
        return _on(state, plan, begun[-1], at, moment, behind)
    return _between(state, plan, begun, following, at, behind)


def _known_and_ridden_km(state: State, plan: Shown, moment: datetime) -> float | None:
    """Return what was known of the tank and what has been ridden since, but for pumps. [km].

    For where the plan was made without it, since none lasts on it. Roads between legs are reckoned
    from the straight line, each with the leg before it.
    """
    made_from = plan.demands.underway
    if made_from is None or made_from.tank_km is None:
        return None
    book, km = state.book.road, made_from.tank_km
    here = made_from.point or (book.point(made_from.place) if made_from.place else None)
    for leg in plan.briefing.legs:
        begins = side(state, plan, leg, last=False)
        there = book.point(begins) if begins else None
        if moment > (plan.briefing.departure or leg.start) and here and there:
            km += straight_km(here, there)
        if leg.start > moment:
            break
        km += leg.share_by(moment) * _leg_km(state, plan, leg)
        ends = side(state, plan, leg, last=True)
        here = book.point(ends) if ends and leg.end <= moment else None
    return km


def _leg_km(state: State, plan: Shown, leg: PlannedLeg) -> float:
    """Return how long a planned leg is, of the first what was left of it; 0 on a boat. [km]."""
    made_from, road = plan.demands.underway, state.book.road.leg(leg.id)
    on = made_from.on_leg if made_from else None
    if on is not None and leg.id == back_over(on.leg):
        back = state.book.road.leg(on.leg)
        return in_way(on.fraction, on.way) * back.distance_km if back else 0.0
    if road is None or road.kind is LegKind.CROSSING:
        return 0.0
    begun = in_way(on.fraction, on.way) if on is not None and on.leg == leg.id else 0.0
    return (1.0 - begun) * road.distance_km


def _begins(state: State, plan: Shown) -> PlaceId | None:
    made_from = plan.demands.underway
    if made_from is not None:
        return made_from.place
    named = [key for key, name in state.book.places if name == plan.briefing.base_from]
    day = state.book.day(state.day)
    return named[0] if len(named) == 1 else (day.start if day else None)


def _on(
    state: State, plan: Shown, leg: PlannedLeg, at: Underway, moment: datetime, behind: timedelta
) -> Underway:
    """Return where on a leg the riders are, its halts and breaks reckoned with."""
    road, share = state.book.road.leg(leg.id), max(leg.share_by(moment), _BEGUN)
    if leg.since_full:
        at = replace(at, tank_km=leg.tank_km(share))  # a boat burns its own
    if road is not None and road.kind is LegKind.CROSSING:
        return _at_sea(leg, road, at, behind)
    if road is not None and road.kind is LegKind.STOP:
        return _at(at, road.start)
    at = replace(at, ready=max(at.ready, leg.rides_on_at(moment) + behind))
    made_from = plan.demands.underway
    on = made_from.on_leg if made_from else None
    if on is not None and leg.id == back_over(on.leg):
        met = in_way(on.fraction, on.way) * (1.0 - share)
        back = replace(on, fraction=in_way(met, on.way))
        return replace(at, place=None, point=None, on_leg=back, turning_back=True)
    begun = in_way(on.fraction, on.way) if on is not None and on.leg == leg.id else 0.0
    way = way_of(plan, leg)
    here = OnLeg(leg=leg.id, way=way, fraction=in_way(begun + (1.0 - begun) * share, way))
    return replace(at, place=None, point=None, on_leg=here, turning_back=False)


def _at_sea(leg: PlannedLeg, road: RoadLeg, at: Underway, behind: timedelta) -> Underway:
    """Return on which side of a crossing they are: a boat that was caught sails in time."""
    quay, over = _ends(road.start, road.end, leg.way)
    queue = replace(_at(at, quay), boarding=leg.id)
    boarding = timedelta(minutes=road.boarding_minutes)
    if leg.sailing is None or leg.start + behind > leg.sailing - boarding or at.at < leg.sailing:
        return queue
    there = replace(_at(at, over), ready=max(at.at, leg.end))
    return replace(there, ridden=there.ridden | {leg.id})


def _between(
    state: State,
    plan: Shown,
    begun: list[PlannedLeg],
    following: tuple[PlannedLeg, ...],
    at: Underway,
    behind: timedelta,
) -> Underway:
    """Return where they are between legs: at the next one's start, there when it is planned.

    The road there is not known minute by minute; where they wait at one place, it is that place.
    """
    day, briefing = state.book.day(state.day), plan.briefing
    here = side(state, plan, begun[-1], last=True) if begun else at.place
    there, due = _base(state, briefing, day.end if day else None), briefing.arrival
    if following:
        there, due = side(state, plan, following[0], last=False), following[0].start
    km = following[0].begun_km if following else None
    if km is None and begun:
        km = begun[-1].tank_km(1.0)
    at = at if km is None else replace(at, tank_km=km)
    if there is None or there == here or due is None:
        if begun:
            over = rest_over(begun[-1], at.at - behind)
            at = replace(at, ready=max(at.ready, over + behind))
        return _at(at, there or here) if there or here else at
    return replace(_at(at, there), ready=max(at.at, due + behind))


def _base(state: State, briefing: Briefing, otherwise: PlaceId | None) -> PlaceId | None:
    named = [key for key, name in state.book.places if name == briefing.base_to]
    return named[0] if len(named) == 1 else otherwise


def way_of(plan: Shown, leg: PlannedLeg) -> Way:
    """Return the way a planned leg is ridden, the rest of one in the way the whole of it was."""
    made_from = plan.demands.underway
    on = made_from.on_leg if made_from else None
    return on.way if on is not None and on.leg == leg.id else leg.way


def side(state: State, plan: Shown, leg: PlannedLeg, *, last: bool) -> PlaceId | None:
    """Return the place where a planned leg begins, or ends; of a way back, where it ends."""
    road = state.book.road.leg(leg.id)
    if road is None:
        backs = [one for name, one in state.book.road.legs if back_over(name) == leg.id]
        return backs[0].start if backs else None
    return _ends(road.start, road.end, way_of(plan, leg))[int(last)]


def _ends(start: PlaceId, end: PlaceId, way: Way) -> tuple[PlaceId, PlaceId]:
    return (start, end) if way is Way.FORWARD else (end, start)


def _at(at: Underway, place: PlaceId | None) -> Underway:
    if place is None:
        return at
    return replace(at, place=place, on_leg=None, point=None, turning_back=False)


def _told(state: State, underway: Underway, plan: Shown | None, *, by_plan: bool) -> Stand:
    words, on = state.words, underway.on_leg
    if on is not None:
        name = clean(state.book.name(on.leg))
        shape = "By the plan you are on {where}." if by_plan else "You are on {where}."
    elif underway.place is not None:
        name = clean(state.book.place(underway.place))
        shape = "By the plan you are at {where}." if by_plan else "You are at {where}."
    else:
        name, shape = "", "You are off the route."
    legs = plan.briefing.legs if plan else ()
    ahead = tuple(
        leg
        for leg in legs
        if leg.id not in underway.gone and not (on and leg.id == back_over(on.leg))
    )
    riding = replace(underway, riding=tuple(leg.id for leg in ahead))
    return Stand(underway=riding, told=words.say(shape, where=name), ahead=ahead)
