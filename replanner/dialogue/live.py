"""Live positions: noted, told in one line edited in place, planned anew only off the plan."""

from dataclasses import replace
from datetime import datetime, timedelta

from replanner.advice.text_road import status_line
from replanner.dialogue import replies
from replanner.dialogue.by_plan import Stand, by_plan, stand
from replanner.dialogue.by_position import found, share_of, standing
from replanner.dialogue.changing import Outcome, make
from replanner.dialogue.events import Effect, LogLeg, PositionCame, Remember, Say
from replanner.dialogue.events import Outcome as Became
from replanner.dialogue.road_book import straight_km
from replanner.dialogue.road_told import in_force
from replanner.dialogue.state import Shown, State
from replanner.trip.model import LegId
from replanner.trip.underway import Underway

STATUS = "status"
# After a plan was made from a position, the next one waits this long. Assumption.
_NOT_BEFORE = timedelta(minutes=15)


def seen_live(state: State, event: PositionCame) -> Outcome:
    """Note a live position, mark legs ridden, and plan anew only where the plan is left."""
    known = state.demands.underway
    before = known.ridden if known else frozenset()
    underway = _ridden_on(state, event, before)
    newly = underway.ridden - before
    demands = replace(state.demands, underway=underway)
    noted = replace(state, demands=demands, progress=event.progress)
    logged: tuple[Effect, ...] = tuple(
        LogLeg(leg=leg, day=state.day, outcome=Became.RIDDEN) for leg in sorted(newly)
    )
    plan, here = in_force(state), stand(noted, event.sent)
    remember = Remember(day=noted.day, memory=noted.memory)
    if plan is None or here is None or here.underway.at != event.sent:
        return noted, (*logged, remember)
    cause = _cause(noted, plan, here, event, newly, before)
    if cause and not _just_made(plan, event.sent) and state.waiting is None:
        followed = replace(state, progress=event.progress)
        after, effects = make(followed, demands, f"{cause} {here.told}")
        return after, (*logged, *effects)
    line = status_line(plan.briefing, here.told, event.sent)
    return noted, (*logged, remember, Say(text=line, slot=STATUS))


def _ridden_on(state: State, event: PositionCame, before: frozenset[LegId]) -> Underway:
    """Return where they are, with what they have ridden until there and ride by from there."""
    here = found(state, event)
    underway = replace(here, ridden=here.ridden | before)
    last = stand(state, event.sent)
    if last is None:
        return underway
    return standing(state, underway, last, _followed_km(state, event)).underway


def _followed_km(state: State, event: PositionCame) -> float:
    """Return about how far they have come since the last position. [km]."""
    last, here = (one.point if one else None for one in (state.progress, event.progress))
    return straight_km(last, here) if last is not None and here is not None else 0.0


def _just_made(plan: Shown, sent: datetime) -> bool:
    made_from = plan.demands.underway
    return made_from is not None and made_from.live and sent - made_from.at < _NOT_BEFORE


def _cause(
    state: State,
    plan: Shown,
    here: Stand,
    event: PositionCame,
    newly: frozenset[LegId],
    before: frozenset[LegId],
) -> str:
    """Return why the plan does not hold any more, empty where it does."""
    words = state.words
    order = [leg.id for leg in plan.briefing.legs if leg.id not in before]
    if newly and set(order[: len(newly)]) != newly:
        legs = replies.named(sorted(newly), state)
        return words.say("{legs} ridden, not as planned.", legs=legs)
    if event.sure and _off(state, plan, here):
        return words.say("Off the plan.")
    late, spare = _late(plan, here, event.sent), plan.briefing.spare_minutes
    if late is not None and spare is not None and late > timedelta(minutes=max(spare, 0.0)):
        n = f"{late.total_seconds() / 60.0:.0f}"
        return words.say("{n} min late, more than there is to spare.", n=n)
    return ""


def _off(state: State, plan: Shown, here: Stand) -> bool:
    """Tell whether they are on a leg the plan has not, or on none where it has them on one."""
    planned = {leg.id for leg in plan.briefing.legs}
    made_from = plan.demands.underway
    if here.leg is not None:
        on = made_from.on_leg.leg if made_from and made_from.on_leg else None
        return here.leg not in planned and here.leg != on
    if here.underway.point is None:
        return False
    expected = by_plan(state, plan, here.underway.at)
    return expected is not None and expected.on_leg is not None


def _late(plan: Shown, here: Stand, sent: datetime) -> timedelta | None:
    """Return how far behind the plan they are; None: it cannot be told."""
    on = here.underway.on_leg
    for leg in plan.briefing.legs:
        if on is None or leg.id != on.leg:
            continue
        share = share_of(plan, leg, on)
        return sent - (leg.start + share * (leg.end - leg.start))
    if here.underway.place is not None and here.ahead:
        return sent - here.ahead[0].start
    return None
