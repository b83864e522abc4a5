"""Halts wished for that are left out, since they are shut when the riders pass."""

from functools import partial

from replanner.advice.briefing import Briefing, ShutHalt
from replanner.advice.fitting import squeezed
from replanner.advice.telling import SpokenTelling, Telling
from replanner.trip.model import HaltKind

_WIDE = 40  # characters of a name read aloud


def shut_halts(telling: Telling) -> tuple[str, ...]:
    """Return a line for each."""
    return tuple(squeezed(partial(_line, telling, halt)) for halt in _missed(telling.briefing))


def shut_aloud(telling: SpokenTelling) -> str:
    """Return them in one sentence."""
    say = telling.words.say
    told = tuple(
        say(
            "{place} at {time}",
            place=telling.place(halt.place, _WIDE),
            time=telling.figures.clock(halt.passed),
        )
        for halt in _missed(telling.briefing)
    )
    return say("Shut when you pass, {halts}.", halts=telling.words.listed(told)) if told else ""


def _missed(briefing: Briefing) -> tuple[ShutHalt, ...]:
    """Return the halts missed: one shut café is no loss where there is a halt at another."""
    made = {kind for leg in briefing.legs for kind in leg.halt_kinds}
    return tuple(
        halt
        for leg in briefing.legs
        for halt in leg.shut
        if halt.kind != HaltKind.CAFE or HaltKind.CAFE not in made
    )


def _line(telling: Telling, halt: ShutHalt, width: int) -> str:
    say, clock = telling.words.say, telling.figures.clock
    place, passed = telling.place(halt.place, width), clock(halt.passed)
    if halt.opens is None or halt.closes is None:
        return say("Shut that day: {place}, passed {time}", place=place, time=passed)
    return say(
        "Shut at {time}: {place}, open {opens} to {closes}",
        time=passed,
        place=place,
        opens=clock(halt.opens),
        closes=clock(halt.closes),
    )
