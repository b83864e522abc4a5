"""On the road: where the riders are, what they met, what became of the day.

Each word plans the rest of the day from where the riders are; what was understood is echoed in
the first line.
"""

from dataclasses import replace
from datetime import datetime, timedelta

from replanner.dialogue import replies
from replanner.dialogue import road_asking as asking
from replanner.dialogue import road_boats as boats
from replanner.dialogue import road_halts as halts
from replanner.dialogue import road_reports as reports
from replanner.dialogue.by_plan import Stand, stand, today
from replanner.dialogue.by_position import found, planned, planned_way, standing
from replanner.dialogue.changing import Outcome, say
from replanner.dialogue.events import LogLeg, PositionCame
from replanner.dialogue.events import Outcome as Became
from replanner.dialogue.intent_types import Close, Reopen
from replanner.dialogue.live import seen_live
from replanner.dialogue.road_change import from_here, nowhere, own_way, tried, with_tail
from replanner.dialogue.road_fuel import counted_on, fuel, full_in_the_morning
from replanner.dialogue.road_intent import RoadWord
from replanner.dialogue.since_break import rested_until
from replanner.dialogue.state import State
from replanner.dialogue.topics import Topic
from replanner.trip.model import LegId, PlaceId, Way
from replanner.trip.passage import in_way
from replanner.trip.underway import OnLeg, Underway

# What moves the group's plan without adding a caution: whoever leads says it.
_LEADERS = frozenset(
    {
        Topic.STOPPING,
        Topic.RIDDEN,
        Topic.AT_PLACE,
        Topic.TURNING_BACK,
        Topic.HOME,
        Topic.SWEPT,
        Topic.DRY_SEEN,
        Topic.BREAKDOWN,
        Topic.MOVING,
        Topic.BOAT_MISSED,
        Topic.STAY,
        Topic.REVERSE,
        Topic.FUEL_LEFT,
    }
)


def heard(state: State, word: RoadWord, sent: datetime) -> Outcome:  # noqa: C901, PLR0911, PLR0912 - one case a topic
    """Answer a word of the road.

    Parameters
    ----------
    sent : datetime
        When it was sent, not when it arrived; UTC-aware.
    """
    if not state.leads and word.topic in _LEADERS:
        return own_way(state, sent)
    if not state.leads and word.topic in (Topic.TIRED, Topic.COLD) and not word.trial:
        return halts.worn_but_not_leading(state, word, sent)
    match word.topic:
        case Topic.STOPPING:
            return halts.stopping(state, word, sent)
        case Topic.THUNDER:
            return halts.thunder(state, sent)
        case Topic.TIRED | Topic.COLD:
            return halts.worn(state, word, sent)
        case Topic.BREAKDOWN:
            return halts.breakdown(state, sent)
        case Topic.MOVING:
            return halts.moving(state, word, sent)
        case Topic.GRAVEL | Topic.MUD | Topic.SLIPPERY:
            return reports.surface(state, word, sent)
        case Topic.SWEPT:
            return reports.swept(state, word, sent)
        case Topic.WIND_SEEN | Topic.BLOWN | Topic.WET_SEEN | Topic.FOG_SEEN | Topic.DRY_SEEN:
            return reports.seen(state, word, sent)
        case Topic.SIGN_SEEN | Topic.HEARSAY:
            return reports.how_known(state, word, sent)
        case Topic.BOAT | Topic.BOAT_MISSED | Topic.NEXT_BOAT | Topic.TIDE_BOARD:
            return boats.heard(state, word, sent)
        case Topic.FUEL | Topic.FUEL_LEFT | Topic.FUEL_AHEAD:
            return fuel(state, word, sent)
        case Topic.FILLED:
            return _filled(state, word, sent)
        case Topic.DRONE:
            return asking.drone(state, sent)
        case Topic.LIMIT:
            return asking.limit(state, word, sent)
        case Topic.GROUP:
            return asking.somebody_leaves(state, sent)
        case Topic.STAY:
            return asking.stay(state, word, sent)
        case Topic.REVERSE:
            return asking.reverse(state, word, sent)
        case Topic.RIDDEN:
            return _ridden(state, word, sent)
        case Topic.AT_PLACE:
            return _at(state, word, sent)
        case Topic.TURNING_BACK:
            return _turning_back(state, word, sent)
        case Topic.HOME:
            return _home(state, sent)
        case _:
            return say(state, replies.not_understood((), state.words))


def late(state: State, minutes: float | None, sent: datetime) -> Outcome:
    """Shift everything by as long as they are late; who does not lead sees his own way home."""
    if not state.leads and minutes is not None and stand(state, sent) is not None:
        return own_way(state, sent, stand(state, sent, timedelta(minutes=minutes)))
    return halts.late(state, minutes, sent)


def close(state: State, wish: Close, sent: datetime) -> Outcome:
    """Note legs as closed at once; it adds a caution."""
    return reports.close(state, wish, sent)


def reopen(state: State, wish: Reopen, sent: datetime) -> Outcome:
    """Take a closure back, after a second yes; only who leads does."""
    return reports.reopen(state, wish, sent) if state.leads else own_way(state, sent)


def is_open(state: State, legs: tuple[LegId, ...], sent: datetime) -> Outcome:
    """Tell what is known of closures."""
    return reports.is_open(state, legs, sent)


def spare(state: State, sent: datetime) -> Outcome:
    """Tell what the day can still lose."""
    return asking.spare(state, sent)


def position(state: State, event: PositionCame) -> Outcome:
    """Plan the rest of the day from a position; a live one is only noted while all goes by plan."""
    if event.live and state.leads:
        return seen_live(state, event)
    by_plan = stand(state, event.sent)
    here = _by_position(state, event, by_plan)
    if here is None:
        return nowhere(state, event.sent)
    if not state.leads:
        return own_way(state, event.sent, here)
    echo = state.words.say("Position taken.")
    if not event.sure:
        echo = state.words.say("Position taken; it may be another road: say now on ...")
    return from_here(state, here, state.demands, echo)


def _by_position(state: State, event: PositionCame, by_plan: Stand | None) -> Stand | None:
    """Return where they are by a position, with what the plan says they had ridden before it.

    Who is on a leg has not ridden it, whatever was reckoned; one that live positions have marked
    is only crossed or ridden back over: they are taken to be at its nearer end.
    """
    known = found(state, event)
    if by_plan is None:
        nothing = Stand(underway=known, told="", ahead=())
        return standing(state, known, nothing) if today(state, event.sent) else None
    on = known.on_leg.leg if known.on_leg else None
    road = state.book.road.leg(on) if on else None
    marked = event.progress.ridden if event.progress else ()
    if known.on_leg is not None and road is not None and on in marked:
        end = road.start if known.on_leg.fraction < 0.5 else road.end  # noqa: PLR2004 - half way
        there = replace(known, on_leg=None, place=end, turning_back=False)
        return standing(state, there, by_plan)
    legs = [leg.id for leg in planned(state)]
    ahead = set(legs[legs.index(on) :]) if on in legs else set()
    ridden = known.ridden | (by_plan.underway.ridden - ahead)
    return standing(state, replace(known, ridden=ridden - {on}), by_plan)


def _ridden(state: State, word: RoadWord, sent: datetime) -> Outcome:
    """Mark legs as ridden: they are at the end of the last one."""
    here, words = stand(state, sent), state.words
    if here is None:
        return nowhere(state, sent)
    legs = tuple(leg for leg in word.legs if leg not in here.underway.ridden)
    names = replies.named(word.legs, state)
    if word.trial:
        return with_tail(state, sent, here.told)
    if not legs:
        # Reckoned as ridden by the plan, and told now: what was only reckoned counts from here on.
        echo = words.say("{legs}: ridden, as reckoned.", legs=names)
        after, effects = from_here(state, here, state.demands, echo)
        return after, (*_logged(state, word.legs), *effects)
    done = here.underway.ridden | set(legs)
    underway = replace(here.underway, ridden=done)
    end = _end_of(state, legs[-1])
    ahead = {leg.id for leg in here.ahead}
    if end is not None and (here.leg is None or here.leg in legs or legs[-1] in ahead):
        underway = replace(
            underway, place=end, on_leg=None, point=None, turning_back=False, ready=sent
        )
    there = standing(state, underway, here)
    after, effects = from_here(
        state, there, state.demands, words.say("Ridden: {legs}.", legs=names)
    )
    if after.demands.underway != there.underway:
        return after, effects
    return after, (*_logged(state, word.legs), *effects)


def _logged(state: State, legs: tuple[LegId, ...]) -> tuple[LogLeg, ...]:
    told = (leg for leg in legs if leg not in state.logged)
    return tuple(LogLeg(leg=leg, day=state.day, outcome=Became.RIDDEN) for leg in told)


def _end_of(state: State, leg: LegId) -> PlaceId | None:
    road = state.book.road.leg(leg)
    if road is None:
        return None
    return road.start if planned_way(state, leg) else road.end


def _at(state: State, word: RoadWord, sent: datetime) -> Outcome:
    """Take where they say they are: on the leg that runs by there now, else at the place."""
    here = stand(state, sent)
    if here is None:
        return nowhere(state, sent)
    underway = _there(state, word, here, sent)
    if underway is None:
        return with_tail(state, sent, state.words.say("Where there? Name a place: at ..."))
    there = standing(state, underway, here)
    if word.trial:
        return tried(state, there, state.demands, "")
    echo = f"{state.words.say('Taken.')}{_done_too(state, here, there)}"
    return from_here(state, there, state.demands, echo)


def _filled(state: State, word: RoadWord, sent: datetime) -> Outcome:
    """Count the tank as full from here on: at the place that is named, else where they are.

    Of a day to come, and of one that is over, nothing is noted: the next begins with a full tank.
    """
    if word.trial:
        return fuel(state, replace(word, topic=Topic.FUEL), sent)
    on = sent.astimezone(state.book.tz).date()
    coming = next((day for day in state.book.dates if day >= state.day and day > on), None)
    if on < state.day or (on == state.day and state.closed_down):
        return say(state, full_in_the_morning(state, coming))
    here = stand(state, sent)
    if here is None:
        return nowhere(state, sent)
    named = _there(state, word, here, sent) if word.place is not None else None
    there = here if named is None else standing(state, named, here)
    if _is_in(state, there):
        told = f"{there.told} {full_in_the_morning(state, coming)}"
        out = state.words.say("Still out? Say where: filled up at ...")
        return say(state, f"{told}\n{out}")
    if not state.leads:
        return own_way(state, sent)
    tank = replace(there.underway, tank_km=0.0, tank_told_km=0.0)
    full = replace(there, underway=_going_on(state, tank, sent) if word.going_on else tank)
    echo = f"{counted_on(state)}{_done_too(state, here, full)}"
    return from_here(state, full, state.demands, echo)


def _going_on(state: State, there: Underway, sent: datetime) -> Underway:
    """Return riders who ride on at once: of a halt that was told they have had what is over."""
    known = state.demands.underway
    if known is not None and known.at <= sent < known.ready:
        there = replace(there, ridden_minutes=rested_until(known, sent))
    return replace(there, ready=max(sent, there.at))


def _is_in(state: State, here: Stand) -> bool:
    """Tell whether riders are at the end of the day, with nothing planned any more."""
    day = state.book.day(state.day)
    arrived = here.underway.ready <= here.underway.at
    return day is not None and here.underway.place == day.end and arrived and not here.ahead


def _done_too(state: State, before: Stand, after: Stand) -> str:
    """Return the legs that are taken as ridden by what was said of the place."""
    newly = after.underway.ridden - before.underway.ridden
    legs = tuple(leg.id for leg in planned(state) if leg.id in newly)
    said = state.words.say("Ridden: {legs}.", legs=replies.named(legs, state))
    return f" {said}" if legs else ""


def _there(state: State, word: RoadWord, here: Stand, sent: datetime) -> Underway | None:  # noqa: PLR0911 - one case a place
    base = replace(here.underway, at=sent, ready=sent, point=None, turning_back=False)
    if word.legs:
        leg = word.legs[0]
        if leg == here.leg:
            return base
        road = state.book.road.leg(leg)
        if road is None or leg in here.underway.ridden:
            return None
        begins = road.end if planned_way(state, leg) else road.start
        return replace(base, on_leg=None, place=begins)
    if word.place is None:
        return None
    on = here.underway.on_leg
    if on and not here.underway.turning_back and _at_its_end(state, on, word.place):
        return replace(base, on_leg=None, place=word.place, ridden=base.ridden | {on.leg})
    near = [one for one in planned(state) if one.id not in here.underway.ridden]
    near.sort(key=lambda one: one.id != here.leg)  # the leg they are on by the plan first
    for one in near:
        road = state.book.road.leg(one.id)
        spots, way = dict(road.spots) if road else {}, planned_way(state, one.id)
        if word.place in spots and way is not None:
            on = OnLeg(leg=one.id, way=way, fraction=spots[word.place])
            return replace(base, place=None, on_leg=on)
        if road is not None and word.place in (road.start, road.end):
            break
    return replace(base, on_leg=None, place=word.place)


def _at_its_end(state: State, on: OnLeg, place: PlaceId) -> bool:
    """Tell whether who is at a place has ridden the leg; of a loop, if most of it was behind."""
    road = state.book.road.leg(on.leg)
    if road is None:
        return False
    if road.start == road.end:
        return place == road.end and in_way(on.fraction, on.way) >= 0.5  # noqa: PLR2004 - half way
    return place == (road.end if on.way is Way.FORWARD else road.start)


def _turning_back(state: State, word: RoadWord, sent: datetime) -> Outcome:
    """Leave the leg they are on the way they came."""
    here, words = stand(state, sent), state.words
    if here is None:
        return nowhere(state, sent)
    if here.underway.on_leg is None or (word.legs and word.legs[0] != here.leg):
        echo = words.say("Turning back: on no leg I know of, so the way home.")
        return tried(state, here, replace(state.demands, homeward=True), echo)
    back = replace(here, underway=replace(here.underway, turning_back=True))
    echo = words.say("Turning back.")
    if word.trial:
        return tried(state, back, state.demands, echo)
    return from_here(state, back, state.demands, echo)


def _home(state: State, sent: datetime) -> Outcome:
    """Show the way home; an ok takes it."""
    here = stand(state, sent)
    if here is None:
        return nowhere(state, sent)
    echo = state.words.say("Shortest safe way home.")
    return tried(state, here, replace(state.demands, homeward=True), echo)
