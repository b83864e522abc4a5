"""What can be pressed, and what it belongs to.

A button is a word the rider could have typed. Each plan, what-if or question shown has a number;
a button carries it, so that one of an older message changes nothing.
"""

from collections.abc import Sequence
from dataclasses import replace

from replanner.advice.briefing import Decision
from replanner.advice.names import clean, shorten
from replanner.dialogue.events import Button, Effect, Replan, Say
from replanner.dialogue.state import Choice, Confirm, Shown, State, Then

LONGEST_WORD = 40  # bytes: the chat services' buttons hold little more, and carry a number too
_LONGEST_LABEL = 24
_MOST_MISSED = 8


def buttons_of(state: State) -> tuple[Button, ...]:
    """Return what can be pressed at present: on the question, else the what-if, else the plan."""
    words = state.words
    match state.question:
        case Confirm(then=Then.LOG, legs=legs):
            missed = (
                Button(
                    label=_label(words.say("Missed {leg}", leg=state.book.name(leg))),
                    word=f"missed {n}",
                )
                for n, leg in enumerate(legs[:_MOST_MISSED], 1)
            )
            return (Button(label=words.say("All ridden"), word="yes"), *missed)
        case Confirm() | Choice(options=(_,)):
            return (
                Button(label=words.say("Yes"), word="yes"),
                Button(label=words.say("Leave it"), word="no"),
            )
        case Choice(options=options):
            return tuple(
                Button(label=_label(f"{n} {option.label}"), word=str(n))
                for n, option in enumerate(options, 1)
            )
        case None:
            return _of_the_plan(state)


def _of_the_plan(state: State) -> tuple[Button, ...]:
    words = state.words
    if state.trial is not None:
        take = (Button(label=words.say("Take it"), word="ok"),) if state.leads else ()
        return (*take, Button(label=words.say("Drop it"), word="no"))
    plan = state.shown
    if plan is None:
        return ()
    ok = Button(label=words.say("Take it"), word="ok")
    second = Button(label=words.say("Plan B"), word="plan b")
    keep = Button(label=words.say("My order"), word="keep my order")
    why = Button(label=words.say("Why"), word="why")
    picture = Button(label=words.say("Picture"), word="picture")
    track = Button(label=words.say("GPX"), word="gpx")
    if plan.briefing.decision is Decision.NO_WAY:
        return (keep, why) if state.leads else (why,)
    if not state.leads:
        return (why, second, picture, track)
    return (ok, second, keep, why, picture, track)


def _label(text: str) -> str:
    return shorten(clean(text), _LONGEST_LABEL)


def with_buttons(state: State, text: str) -> Say:
    """Return something said of what is open at present, with its buttons."""
    return Say(text=text, buttons=buttons_of(state), serial=state.serial)


def dressed(
    before: State, after: State, effects: Sequence[Effect]
) -> tuple[State, tuple[Effect, ...]]:
    """Count what is shown, and put its buttons below what was said of it.

    Parameters
    ----------
    before, after : State
        Before and after one event.
    effects : sequence of Effect
        What followed from it.
    """
    new = _open(before) != _open(after)
    if new:
        after = replace(after, serial=before.serial + 1)
    own = [
        number
        for number, effect in enumerate(effects)
        if isinstance(effect, Say) and effect.to.holds_asker and not effect.slot
    ]
    # What a plan follows at once is told without buttons: they would be of an older one by then.
    first = own[:1] if new and not any(isinstance(one, Replan) for one in effects) else []
    told = [number for number in own if _has_buttons(effects[number])] or first
    return after, tuple(
        replace(effect, buttons=buttons_of(after), serial=after.serial)
        if number in told and isinstance(effect, Say)
        else effect
        for number, effect in enumerate(effects)
    )


def _has_buttons(effect: Effect) -> bool:
    return isinstance(effect, Say) and bool(effect.buttons)


def _open(state: State) -> tuple[Shown | None, Confirm | Choice | None]:
    return state.last_shown, state.question
