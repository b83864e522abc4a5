"""What is said unasked: in the morning, on the road, when somebody is overdue; mostly nothing."""

from dataclasses import replace
from datetime import date, datetime
from itertools import pairwise

from replanner.advice.briefing import Briefing, Decision, PlannedLeg
from replanner.advice.material import (
    TOLD_FROM_MINUTES,
    Material,
    material_change,
    material_line,
)
from replanner.advice.names import clean
from replanner.advice.telling import written
from replanner.advice.text_road import road_text
from replanner.dialogue import replies
from replanner.dialogue.by_plan import stand, today
from replanner.dialogue.changing import Outcome, ask_for, say
from replanner.dialogue.events import (
    Audience,
    Effect,
    MorningCame,
    OverdueCame,
    PlanArrived,
    Remember,
    RoadCheckCame,
    Say,
    Share,
)
from replanner.dialogue.road_told import in_force, plan_text, tail_text
from replanner.dialogue.state import Purpose, Shown, State
from replanner.hazards.model import CAUTION
from replanner.trip.model import Exposure, LegId
from replanner.trip.underway import Underway

OVERDUE = ("", "overdue")  # of no leg: told once a day
_NO_GO = 3
MORNING = "morning"  # the slot of what is said of it


def looked_at(state: State, event: MorningCame | RoadCheckCame | OverdueCame) -> Outcome:
    """Look at the plan in force again, unless the day is over or one is being made."""
    if state.closed_down or state.waiting is not None or event.day != state.day:
        return state, ()
    match event:
        case MorningCame():
            if in_force(state) is None:
                return state, ()
            return ask_for(state, state.demands, "", Purpose.MORNING)
        case RoadCheckCame(now=now):
            return _road_looked_at(state, now)
        case OverdueCame(now=now):
            return _overdue(state, now)


def again(state: State, sent: datetime) -> Outcome:
    """Look again because the rider asks: the answer is a plan, or that nothing has changed.

    On the road it is the rest of the day that is looked at, from where the riders are by then.
    """
    if is_past(state, state.day, sent):
        return past(state, state.day)
    echo = replies.in_force(state.demands, state)
    here = stand(state, sent) if is_underway(state, sent) else None
    if here is None:
        return ask_for(state, state.demands, echo, Purpose.LOOK)
    wanted = replace(state.demands, underway=here.underway)
    return ask_for(
        state, wanted, " ".join(part for part in (echo, here.told) if part), Purpose.LOOK
    )


def is_past(state: State, day: date, sent: datetime) -> bool:
    """Tell whether a day was over when a line was sent."""
    return day < sent.astimezone(state.book.tz).date()


def past(state: State, day: date) -> Outcome:
    """Say that there is nothing to look at any more."""
    return say(state, state.words.say("{date} is past.", date=replies.date_of(day, state)))


def is_underway(state: State, sent: datetime) -> bool:
    """Tell whether the day spoken about is being ridden, by the plan in force or as they said."""
    plan = in_force(state)
    if plan is None or state.closed_down or not today(state, sent):
        return False
    left = plan.briefing.departure
    return state.demands.underway is not None or (left is not None and left <= sent)


def _road_looked_at(state: State, now: datetime) -> Outcome:
    here = stand(state, now)
    if here is None or not _ahead(state, now):
        return state, ()
    wanted = replace(state.demands, underway=here.underway)
    return ask_for(state, wanted, "", Purpose.ROAD_CHECK)


def _ahead(state: State, now: datetime) -> tuple[PlannedLeg, ...]:
    """Return the legs of the plan in force not begun yet that lie open, or are no plain go."""
    plan = in_force(state)
    if plan is None:
        return ()
    ridden = state.demands.ridden
    legs = (leg for leg in plan.briefing.legs if leg.start > now and leg.id not in ridden)
    return tuple(leg for leg in legs if leg.severity >= CAUTION or _is_exposed(state, leg.id))


def _is_exposed(state: State, leg: LegId) -> bool:
    road = state.book.road.leg(leg)
    return road is not None and road.exposure >= Exposure.OPEN


def morning(state: State, plan: Shown, _: PlanArrived) -> Outcome:
    """Say nothing if the plan still holds; else what has changed, why, and the rest of the day."""
    before, briefing = in_force(state), plan.briefing
    if before is None:
        return state, ()
    if briefing.plan_stale:
        line = state.words.say(
            "Not checked this morning: {cause}. The plan stands as sent; believe what you see.",
            cause=briefing.stale_cause.rstrip("."),
        )
        over = before.briefing.arrival
        return state, (Say(text=line, slot=MORNING, useless_after=over),)
    change = material_change(before.briefing, briefing)
    if change is None or _told_already(state, change):
        return state, ()
    if change.reordered and not (change.gone or change.new):
        return _weigh_the_old_order(state, plan, before.briefing)
    return _morning_told(state, plan, change, before.briefing)


def _weigh_the_old_order(state: State, plan: Shown, before: Briefing) -> Outcome:
    """Ask what the order already told is worth by now: a tie is no news."""
    legs = [leg.id for leg in before.legs]
    kept = replace(plan.demands, before=plan.demands.before | frozenset(pairwise(legs)))
    asked, effects = ask_for(state, kept, "", Purpose.OLD_ORDER)
    if asked.waiting is None:
        return asked, effects
    return replace(asked, waiting=replace(asked.waiting, other=plan)), effects


def weighed(state: State, old: Shown | None, new: Shown) -> Outcome:
    """Tell the new order only if the old one is worth clearly less by now, or is worse met.

    Parameters
    ----------
    state : State
    old : Shown or None
        The day in the order told before; None: no such plan.
    new : Shown
        The best plan of this morning.
    """
    before = in_force(state)
    if before is None:
        return state, ()
    stays = Shown(briefing=old.briefing, demands=new.demands) if old else None
    if stays is None or not _as_good(stays.briefing, new.briefing, before.briefing):
        stays = new
    change = material_change(before.briefing, stays.briefing)
    if change is None or _told_already(state, change):
        return state, ()
    return _morning_told(state, stays, change, before.briefing)


def _as_good(old: Briefing, new: Briefing, before: Briefing) -> bool:
    """Tell whether a morning's plan in the old order does as well, no leg of it met worse."""
    best, worth = new.value_minutes, old.value_minutes
    if old.plan_stale or best is None or worth is None or best - worth > TOLD_FROM_MINUTES:
        return False
    change = material_change(before, old)
    if change is None:
        return True
    other = change.lost or change.gone or change.new or change.reordered
    return not other and all(one.now <= one.was for one in change.classes)


def _morning_told(state: State, plan: Shown, change: Material, before: Briefing) -> Outcome:
    briefing = plan.briefing
    line = material_line(change, before, briefing)
    told = f"{replies.clock(briefing.made_at, state)} {line}"
    rest = road_text(briefing, briefing.made_at, before=before)
    lines = (told, rest, _to_take_it(state, briefing))
    return _alert(state, plan, change, told, "\n".join(line for line in lines if line))


def _to_take_it(state: State, briefing: Briefing) -> str:
    """Return that what was agreed on counts until another ok, to who could give it."""
    if state.accepted is None or not state.leads or briefing.decision is Decision.NO_WAY:
        return ""
    return state.words.say("ok takes it; till then I go by the plan you accepted.")


def road(state: State, plan: Shown, event: PlanArrived) -> Outcome:
    """Alert once to what has become worse on a leg ahead, before it is too late to act."""
    before, underway = in_force(state), event.request.demands.underway
    if before is None or underway is None or plan.briefing.plan_stale:
        return state, ()
    watched = {leg.id for leg in _ahead(state, underway.at)}
    ahead = {leg.id for leg in before.briefing.legs if leg.start > underway.at}
    found = material_change(before.briefing, plan.briefing)
    if found is None:
        return state, ()
    news = replace(
        Material(lost=found.lost),
        classes=tuple(
            one for one in found.classes if one.now > one.was and one.leg in ahead - underway.gone
        ),
        gone=tuple(
            leg for leg in found.gone if leg in watched and _for_weather(plan.briefing, leg)
        ),
    )
    if not news or _told_already(state, news):
        return state, ()
    line = material_line(news, before.briefing, plan.briefing)
    told = f"{replies.clock(underway.at, state)} {line}"
    lines = (told, _where_to_choose(before.briefing, news, underway.at))
    rest = road_text(plan.briefing, underway.at, before=before.briefing, ridden=underway.gone)
    return _alert(state, plan, news, told, "\n".join(one for one in (*lines, rest) if one))


def _for_weather(briefing: Briefing, leg: LegId) -> bool:
    return any(left.id == leg and left.reason is not None for left in briefing.left_out)


def _where_to_choose(before: Briefing, news: Material, at: datetime) -> str:
    """Return where to act on it and until when: the decision point, or before the leg begins."""
    telling = written(before)
    legs = {*(one.leg for one in news.classes), *news.gone}
    for point in before.decision_points:
        if point.leg in legs and point.latest > at:
            return telling.words.say(
                "Decide at {place} by {time}: {instead}.",
                place=clean(point.place_name),
                time=telling.figures.clock(point.latest),
                instead=clean(point.instead_name),
            )
    starts = [leg for leg in before.legs if leg.id in legs and leg.start > at]
    if not starts:
        return ""
    return telling.words.say(
        "Decide before {leg}, {time}.",
        leg=telling.leg(starts[0].id),
        time=telling.figures.clock(starts[0].start),
    )


def _causes(change: Material) -> frozenset[tuple[LegId, str]]:
    """Return what the riders are alerted to; a no-go is a cause of its own."""
    told = {
        (one.leg, f"no-go {one.cause}".strip() if one.now == _NO_GO else one.cause or "better")
        for one in change.classes
    }
    told |= {(leg, "left out") for leg in change.gone}
    if change.lost:
        told.add(("", "no plan"))
    return frozenset(told)


def _told_already(state: State, change: Material) -> bool:
    """Tell whether nothing is new but what the riders were alerted to."""
    only_legs = replace(change, classes=(), gone=(), lost=False)
    return not only_legs and _causes(change) <= state.alerted


def _alert(state: State, plan: Shown, change: Material, cause: str, told: str) -> Outcome:
    after = replace(
        state,
        shown=plan,
        demands=plan.demands,
        trial=None,
        question=None,
        alerted=state.alerted | _causes(change),
    )
    # Who was left in peace until the evening is past what the day became.
    over = plan.briefing.arrival
    effects: list[Effect] = [Say(text=told, urgent=change.urgent, useless_after=over)]
    if after.memory != state.memory:
        effects.insert(0, Remember(day=after.day, memory=after.memory))
    share = Share(briefing=plan.briefing, demands=plan.demands, cause=cause, useless_after=over)
    return after, (*effects, share)


def compared(state: State, plan: Shown, event: PlanArrived) -> Outcome | None:
    """Answer who asked whether it still holds; None: it does not, show the new one."""
    before = in_force(state)
    if before is None or before.briefing.date != plan.briefing.date:
        return None
    if plan.demands.underway is not None:
        return _rest_compared(state, before, plan, plan.demands.underway, event.request.why_asked)
    if material_change(before.briefing, plan.briefing) is not None:
        return None
    line = state.words.say("Nothing changed. {plan}", plan=replies.line_one(before.briefing))
    echo = event.request.why_asked
    return state, (Say(text=f"{echo}\n{line}".strip()),)


def _rest_compared(
    state: State, before: Shown, plan: Shown, underway: Underway, echo: str
) -> Outcome:
    """Answer with the rest of the day; where it has changed, whoever leads rides by it now."""
    ahead = (leg for leg in before.briefing.legs if leg.end > underway.at)
    legs = tuple(leg for leg in ahead if leg.id not in underway.ridden)
    rest = replace(before.briefing, legs=legs, departure=plan.briefing.departure)
    change = material_change(rest, plan.briefing)
    told = plan_text(plan, before, Purpose.LOOK)
    # Another order of the same legs, none of them worse, is no news.
    if change is None or not (change.lost or change.classes or change.gone or change.new):
        line = state.words.say("Nothing changed.")
        told = told if change is None else tail_text(plan, before)
        return state, (Say(text="\n".join(one for one in (echo, line, told) if one)),)
    line = f"{replies.clock(underway.at, state)} {material_line(change, rest, plan.briefing)}"
    whole = "\n".join(one for one in (echo, line, told) if one)
    if not state.leads:
        return state, (Say(text=whole),)
    after, effects = _alert(state, plan, change, line, whole)
    if state.accepted is None:  # nothing is the group's yet: who asked is told
        effects = tuple(one for one in effects if not isinstance(one, Share))
    return after, effects


def not_looked(state: State, purpose: Purpose, message: str) -> Outcome:
    """Say that a look could not be had, where silence would be taken for an all-clear."""
    match purpose:
        case Purpose.ROAD_CHECK:  # on the road nobody waits for a word, and none is an all-clear
            return state, ()
        case Purpose.MORNING:
            line = state.words.say("Not checked this morning: {cause}", cause=message)
            plan = in_force(state)
            over = plan.briefing.arrival if plan else None
            return state, (Say(text=line, slot=MORNING, useless_after=over),)
        case Purpose.EVENING:
            told = (
                "No plan for {date} yet. {cause}."
                if state.last_shown is None
                else "No new plan for {date}. {cause}. The one sent before is as old as it says."
            )
            cause, date = message.rstrip("."), replies.date_of(state.day, state)
            parts = (
                state.words.say(told, date=date, cause=cause),
                state.words.say("Nothing was checked: that is not good weather."),
                state.words.say("To ask again: plan."),
            )
            return say(state, " ".join(parts))
        case _:
            return say(state, message)


def _overdue(state: State, now: datetime) -> Outcome:
    plan = in_force(state)
    if OVERDUE in state.alerted or plan is None or plan.briefing.arrival is None:
        return state, ()
    if now <= plan.briefing.arrival:
        return state, ()
    after = replace(state, alerted=state.alerted | {OVERDUE})
    words = state.words
    nudge = words.say(
        "You should be in since {time}. All well? Say: home safe. "
        "If not in: running 40 late. The next message is for whoever waits for you.",
        time=replies.clock(plan.briefing.arrival, state),
    )
    return after, (
        Remember(day=after.day, memory=after.memory),
        Say(text=nudge, to=Audience.EVERYONE, urgent=True),
        Say(text=for_home(state, plan.briefing, now), to=Audience.EVERYONE, urgent=True),
    )


def for_home(state: State, briefing: Briefing, now: datetime) -> str:
    """Return a plain text for the person at home: the last known leg, the planned arrival.

    Coordinates are told only where a position was shared.
    """
    telling = written(briefing)
    say, clock = telling.words.say, telling.figures.clock
    lines = [
        say(
            "{date}: the riders planned to be in {base} by {time}. Nothing heard by {now}.",
            date=telling.figures.date(briefing.date),
            base=clean(briefing.base_to),
            time=clock(briefing.arrival, up=True) if briefing.arrival else "?",
            now=clock(now),
        )
    ]
    underway = state.demands.underway
    begun = [leg for leg in briefing.legs if leg.start <= now]
    if underway is not None and underway.on_leg is not None:
        leg = clean(state.book.name(underway.on_leg.leg))
        lines.append(say("Last known at {time}: on {leg}.", time=clock(underway.at), leg=leg))
    elif begun:
        last = begun[-1]
        lines.append(
            say(
                "Last leg by the plan: {leg}, {start} to {end}.",
                leg=clean(last.name),
                start=clock(last.start),
                end=clock(last.end),
            )
        )
    if underway is not None and underway.point is not None:
        lines.append(
            say(
                "Position shared at {time}: {latitude} {longitude}.",
                time=clock(underway.at),
                latitude=f"{underway.point.latitude:.5f}",
                longitude=f"{underway.point.longitude:.5f}",
            )
        )
    lines.append(say("In an emergency the number is 112 on many networks."))
    return "\n".join(lines)
