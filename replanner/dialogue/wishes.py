"""Wishes that change a plan: from what was meant to demands, each echoed in the first line."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from replanner.advice import text
from replanner.clock import local_instant
from replanner.dialogue import demands as edit
from replanner.dialogue import replies
from replanner.dialogue.book import BookDay
from replanner.dialogue.changing import Outcome, ask_for, change, make, say
from replanner.dialogue.intent_types import Close, LeaveAt, Reopen, Ride, Skip, SwapLegs, ToDay
from replanner.dialogue.state import Purpose, State
from replanner.trip.model import LegId, LegKind

_LOOP = LegKind.LOOP.value


def skip(state: State, wish: Skip) -> Outcome:
    """Leave legs out that this day could ride."""
    if away := _not_here(state, wish.legs):
        legs = replies.named(away, state)
        return say(state, state.words.say("{legs}: not on this day, nothing to skip.", legs=legs))
    echo = state.words.say("Left out: {legs}.", legs=replies.named(wish.legs, state))
    return change(state, edit.without(state.demands, wish.legs), echo, trial=wish.trial)


def ride(state: State, wish: Ride) -> Outcome:
    """Ride legs all the same; a closed one must be said to be open first."""
    words = state.words
    closed = [leg for leg in wish.legs if leg in state.demands.closed]
    if closed:
        legs = replies.named(closed, state)
        return say(
            state, words.say("{legs}: reported closed. If it is open, say: ... is open", legs=legs)
        )
    if away := _not_here(state, wish.legs):
        legs = replies.named(away, state)
        return say(state, words.say("{legs}: not on this day. Say: swap ... with a day", legs=legs))
    skipped = tuple(leg for leg in wish.legs if leg in state.demands.left_out)
    if skipped:  # the plan decides again; whatever it then leaves out, it has a reason for
        echo = words.say("Not left out any more: {legs}.", legs=replies.named(skipped, state))
        return change(state, edit.allowing(state.demands, skipped), echo, trial=wish.trial)
    echo = words.say("Ridden all the same: {legs}.", legs=replies.named(wish.legs, state))
    return change(state, edit.riding(state.demands, wish.legs), echo, trial=wish.trial)


def tonight(state: State) -> Outcome:
    """Try the one loop this day could still take in the evening; say so where there is none."""
    day, seen = state.book.day(state.day), state.last_shown
    if day is None or seen is None:
        return say(state, state.words.say("There is no plan shown yet."))
    planned, kinds = {leg.id for leg in seen.briefing.legs}, dict(state.book.kinds)
    loops = [leg for leg in day.optional if kinds.get(leg) == _LOOP and leg not in planned]
    if seen.briefing.tonight is not None or len(loops) != 1:
        return say(state, replies.tonight(seen.briefing, state))
    return ride(state, Ride(legs=(loops[0],), trial=True))


def _not_here(state: State, legs: Sequence[LegId]) -> list[LegId]:
    """Return the legs this day neither lists nor has been given; a stand-in may be in its plan."""
    day = state.book.day(state.day)
    if day is None:
        return []
    moved = {leg for leg, to in state.demands.moved if to == state.day}
    seen = state.last_shown
    planned = {leg.id for leg in seen.briefing.legs} if seen else set()
    return [leg for leg in legs if leg not in {*day.legs, *moved, *planned}]


def close(state: State, wish: Close) -> Outcome:
    """Note legs as closed at once; it adds a caution."""
    echo = state.words.say("Noted as closed: {legs}.", legs=replies.named(wish.legs, state))
    return change(state, edit.closing(state.demands, wish.legs), echo)


def reopen(state: State, wish: Reopen) -> Outcome:
    """Take a closure back, after a second yes."""
    legs = tuple(leg for leg in wish.legs if leg in state.demands.closed)
    if not legs:
        return say(
            state,
            state.words.say(
                "{legs}: nobody reported it closed here. Signs and barriers decide.",
                legs=replies.named(wish.legs, state),
            ),
        )
    echo = state.words.say("Open again: {legs}.", legs=replies.named(legs, state))
    return change(state, edit.reopening(state.demands, legs), echo)


def leave_at(state: State, wish: LeaveAt) -> Outcome:
    """Leave at a wall time of the day."""
    departure = local_instant(state.day, wish.wall, state.book.tz)
    echo = state.words.say("Leave at {time}.", time=replies.clock(departure, state))
    plan = state.shown.briefing if state.shown else None
    if plan is not None and plan.departure == departure and state.demands.departure is None:
        return say(state, f"{echo} {state.words.say('That is so already.')}")
    return change(state, edit.departing(state.demands, departure), echo, trial=wish.trial)


def swap_legs(state: State, wish: SwapLegs) -> Outcome:
    """Exchange two legs of the day, or a leg of it with one of another day."""
    words, names = state.words, replies.named((wish.first, wish.second), state)
    plan = state.shown.briefing if state.shown else None
    order = tuple(leg.id for leg in plan.legs) if plan else ()
    if wish.first == wish.second:
        return say(state, words.say("{legs}: one and the same.", legs=names))
    if wish.in_order:
        echo = words.say(
            "{first} before {second}.",
            first=replies.named((wish.first,), state),
            second=replies.named((wish.second,), state),
        )
        wanted = edit.in_order(state.demands, wish.first, wish.second)
        return change(state, wanted, echo, trial=wish.trial)
    echo = words.say("Swapped: {legs}.", legs=names)
    if wish.first in order and wish.second in order:
        wanted = edit.exchanged(state.demands, order, wish.first, wish.second)
        return change(state, wanted, echo, trial=wish.trial)
    if not {wish.first, wish.second} & set(order):
        return say(state, words.say("{legs}: neither is in this plan.", legs=names))
    gone, wanted_leg = (
        (wish.first, wish.second) if wish.first in order else (wish.second, wish.first)
    )
    return _for_one_elsewhere(state, gone, wanted_leg, echo, trial=wish.trial)


def _for_one_elsewhere(
    state: State, gone: LegId, wanted: LegId, echo: str, *, trial: bool
) -> Outcome:
    """Ride a leg that is not in the plan instead of one that is."""
    here = state.book.day(state.day)
    if here is None or wanted in here.legs:
        demands = edit.riding(edit.without(state.demands, (gone,)), (wanted,))
        return change(state, demands, echo, trial=trial)
    there = home_day(state, wanted)
    if there is None or not share_a_base(here, there):
        return say(
            state,
            state.words.say(
                "{leg} cannot be reached on this day.", leg=replies.named((wanted,), state)
            ),
        )
    demands = edit.moving(state.demands, (gone,), there.date)
    return change(state, edit.moving(demands, (wanted,), here.date), echo, trial=trial)


def to_day(state: State, wish: ToDay) -> Outcome:
    """Move a leg to another day, or exchange the contents of two whole days."""
    if wish.leg is None:
        return _whole_day(state, wish.day, trial=wish.trial)
    words, name = state.words, replies.named((wish.leg,), state)
    here, there = state.book.day(state.day), state.book.day(wish.day)
    home = home_day(state, wish.leg) or here
    if wish.day < state.day or there is None or home is None:
        return say(state, words.say("{day} is past.", day=_day_name(wish.day)))
    if wish.leg in there.legs and (wish.leg, wish.day) not in state.demands.moved and home is there:
        return say(
            state,
            words.say("{leg} is on {day} already.", leg=name, day=_day_name(wish.day)),
        )
    if not share_a_base(home, there):
        return say(
            state,
            words.say(
                "{leg} cannot move: {day} runs from {start} to {end}.",
                leg=name,
                day=_day_name(wish.day),
                start=state.book.place(there.start),
                end=state.book.place(there.end),
            ),
        )
    echo = words.say("{leg} moves to {day}.", leg=name, day=_day_name(wish.day))
    return change(state, edit.moving(state.demands, (wish.leg,), wish.day), echo, trial=wish.trial)


def _whole_day(state: State, day: date, *, trial: bool) -> Outcome:
    words, here, there = state.words, state.book.day(state.day), state.book.day(day)
    if here is None or there is None or day < state.day:
        return say(state, words.say("{day} is past.", day=_day_name(day)))
    if here is there:
        return say(state, words.say("{day} is this day.", day=_day_name(day)))
    for one in (here, there):
        if not (one.stays and here.start == there.start):
            return say(
                state,
                words.say(
                    "{day} runs from {start} to {end}: whole days cannot be swapped.",
                    day=_day_name(one.date),
                    start=state.book.place(one.start),
                    end=state.book.place(one.end),
                ),
            )
    demands = edit.moving(state.demands, here.own_order, there.date)
    demands = edit.moving(demands, there.own_order, here.date)
    echo = words.say("Swapped with {day}.", day=_day_name(day))
    return change(state, demands, echo, trial=trial)


def home_day(state: State, leg: LegId) -> BookDay | None:
    """Return the day a leg is on: where it was moved to, else this day, else its own."""
    moved = dict(state.demands.moved)
    if leg in moved:
        return state.book.day(moved[leg])
    days = [day for day in state.book.days if leg in day.legs]
    return next((day for day in days if day.date == state.day), days[0] if days else None)


def share_a_base(one: BookDay, other: BookDay) -> bool:
    """Tell whether two days begin or end at one base, so that a loop can be ridden on either."""
    return bool({one.start, one.end} & {other.start, other.end})


def _day_name(day: date) -> str:
    return f"{day:%A} {day.day}"


def keep_order(state: State) -> Outcome:
    """Ride the own order: its one worst caution is shown once, then no more is said of it.

    This is always a choice, also where a limit is broken: the rider decides on the road.
    """
    words = state.words
    if state.shown is None:
        return say(state, words.say("There is no plan shown yet."))
    # After an ok to plan B the demands are ours; the own order stands on what the rider wished.
    wished = state.shown.wishes if state.shown.wishes is not None else state.demands
    wanted = edit.own_order(replace(wished, closed=state.demands.closed))
    # What was asked for is no change of ours, so such a plan changes nothing though it is no own
    # order: only one that asks for no other legs and no other order is.
    unchanged = not state.shown.briefing.changes
    is_own = unchanged and replace(wanted, own_order=False) == state.demands
    if (state.demands.own_order or is_own) and state.shown == state.accepted:
        return say(state, words.say("This is your own order, and you accepted it."))
    if state.demands.own_order or is_own:
        return say(state, words.say("This is your own order. Say ok to accept it."))
    still = replies.in_force(replace(wanted, own_order=False), state)
    echo = " ".join(part for part in (words.say("Your own order is kept."), still) if part)
    return make(state, wanted, echo, Purpose.OWN_ORDER)


def start_over(state: State) -> Outcome:
    """Drop the wishes of the day and make our own suggestion again."""
    echo = state.words.say("Your wishes for the day are dropped.")
    return change(state, edit.afresh(state.demands), echo)


def plan_b(state: State) -> Outcome:
    """Show plan B, planned through so that an ok can take it."""
    plan = state.shown
    if plan is None:
        return say(state, state.words.say("There is no plan shown yet."))
    if plan.briefing.plan_b is None:
        return say(state, text.plan_b_text(plan.briefing))
    wanted = edit.plan_b(state.demands, plan.briefing)
    return ask_for(state, wanted, state.words.say("Plan B."), Purpose.PLAN_B)
