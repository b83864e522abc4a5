"""Standing cautions, and which of them a day calls for.

Every caution has a key, the full sentences and, where it may become the caution of the day, a
short line. `STANDING` ones are shown whole with the first plan and on request.
"""

from collections.abc import Iterable, Mapping
from typing import NamedTuple

from replanner.advice.wording import wording_of
from replanner.hazards.model import CAUTION
from replanner.trip.fuel import TankKnown


class Caution(NamedTuple):
    """A caution: its full text, and its short line when it is the caution of the day."""

    full: str
    short: str = ""


STANDING: Mapping[str, Caution] = {
    "advice": Caution(
        "This is advice only. You decide, on what you see; doing less is always right."
    ),
    "signs": Caution(
        "Signs, barriers, tide boards, ferry crews, police and local law come before this plan."
    ),
    "forecast": Caution(
        "Forecasts for mountains and coasts are often wrong, most of all for gusts, sea fog and "
        "showers. If the road is worse than the plan says, turn round."
    ),
    "unseen": Caution("Nothing here knows of oil, mud, animals or traffic round the next bend."),
    "eyes": Caution(
        "Do not read, type or fly a drone while riding. Stop in a safe place off the road first."
    ),
    "skill": Caution(
        "Ride only what your licence, insurance, tyres and load allow. Learn gravel, wet tracks, "
        "first aid and repairs from qualified people, not on a tour."
    ),
    "times": Caution("Times are for planning. Being late is a reason to drop a leg, not to hurry."),
    "fit": Caution(
        "Tired, cold, ill, pressed or after a drink: every limit is lower. Say no early."
    ),
    "silence": Caution(
        "No message does not mean all is well. Old or missing data is told as such; what it "
        "should have shown has not been checked."
    ),
    "signal": Caution("Some legs have no phone signal: tell somebody your plan and latest time."),
    "drone": Caution("Drones: only where and how the local rules allow; check them on the day."),
    "reports": Caution("What riders report of roads and closures may be wrong or old by now."),
    "emergency": Caution(
        "In an emergency call the local number; 112 works on many networks. Nothing here can "
        "call for you."
    ),
}

OF_THE_DAY: Mapping[str, Caution] = {
    "wind": Caution(
        "Gusts hit hardest at gaps, bridges and summits: slow down before them and keep room "
        "to the side.",
        "Slow before gaps and summits: gusts",
    ),
    "wet": Caution(
        "Wet roads at least double the way it takes to stop; keep off paint, metal and leaves.",
        "Wet road: twice the way to stop",
    ),
    "loose": Caution(
        "Loose stones: slow before them, upright, gently on brake and throttle, far behind others.",
        "Loose stones: slow, upright, gentle",
    ),
    "ice": Caution(
        "Ice cannot be seen. Shade, bridges and summits freeze first: wait for the sun or stay.",
        "Ice hides in shade and on bridges",
    ),
    "sight": Caution(
        "In fog ride so that you can stop within what you see, lights on, or wait.",
        "Fog: stop within what you see",
    ),
    "thunder": Caution(
        "A motorcycle gives no shelter from lightning. Wait in a building until half an hour "
        "after the last thunder.",
        "Thunder: wait it out in a building",
    ),
    "heat": Caution(
        "Heat slows the head before you feel it: drink, stop in shade, ride early.",
        "Heat: drink, and stop in the shade",
    ),
    "cold": Caution(
        "Cold hands brake late: stop and warm up before they go numb.",
        "Cold hands brake late: warm up",
    ),
    "sun": Caution(
        "With the sun in your eyes, those behind a bend cannot see you and you cannot see them.",
        "Low sun: you cannot see, slow down",
    ),
    "dark": Caution(
        "The light is short today: leave out a leg rather than ride an unknown road in the dark.",
        "Short of light: drop a leg, not care",
    ),
    "animals": Caution(
        "Animals come to the road from dusk until after dark: slow down where woods come close.",
        "Animals at dusk: slow near woods",
    ),
    "boat": Caution(
        "The boat may not run in wind: ask the crew before you count on it.",
        "Ask the crew if the boat runs",
    ),
    "no_data": Caution(
        "Some hazards could not be judged for want of data: ride as if each were there.",
        "Not all was checked: take care",
    ),
    "old_data": Caution(
        "The forecast is older than it should be: look at the sky before you leave.",
        "Old forecast: look at the sky",
    ),
    "no_phone": Caution(
        "There is no phone signal on part of the day: leave your latest time with somebody.",
        "No signal on the way: tell somebody",
    ),
    "estimated_roads": Caution(
        "Some riding times are estimates from the map: they may be longer.",
        "Some times are only estimates",
    ),
    "spur": Caution(
        "A dead end is ridden twice: fill up first and keep the turn-back time.",
        "Dead end: fuel first, turn in time",
    ),
    "tank": Caution(
        "What is left in the tanks is not known here once the day has begun, at best reckoned by "
        "the plan: look at it, and fill up in time.",
        "Tanks not known here: fill up in time",
    ),
    "tank_reckoned": Caution(
        "Since you told of your tanks, what is left in them is only reckoned by the plan: look at "
        "it, and fill up in time.",
        "Tanks only reckoned: fill up in time",
    ),
    "breaks": Caution(
        "The day has no time for all its breaks: ride less of it, and stop whenever you tire.",
        "No time for all breaks: stop if tired",
    ),
}

CAUTIONS: Mapping[str, Caution] = {**OF_THE_DAY, **STANDING}


def cautions_for(
    hazards: Iterable[tuple[str, float]],
    *,
    unknown: Iterable[str] = (),
    stale: bool = False,
    dark: bool = False,
    no_phone: bool = False,
    estimated_roads: bool = False,
    spur: bool = False,
    tank: TankKnown | None = None,
    breaks_lack: bool = False,
) -> tuple[str, ...]:
    """Return the keys of the day's cautions, the day's own first, then the standing ones.

    Parameters
    ----------
    hazards : iterable of (hazard name, severity)
        What is met on the plan's legs; only those at caution or worse count, the worst first.
    unknown : iterable of str
        Hazards that could not be judged.
    stale : bool
        The forecast is older than it should be.
    dark : bool
        The day ends less than an hour before civil dusk, or after it.
    no_phone, estimated_roads, spur : bool
        The plan rides such a leg.
    tank : TankKnown or None
        How far it is known what is left in the smallest tank; None: no tank has a range.
    breaks_lack : bool
        More is ridden in one go than the rider wants.
    """
    met = sorted(hazards, key=lambda found: -found[1])
    keys = [wording_of(name).caution for name, severity in met if severity >= CAUTION]
    keys += [
        key
        for key, holds in (
            ("no_data", any(True for _ in unknown)),
            ("old_data", stale),
            ("dark", dark),
            ("breaks", breaks_lack),
            ("no_phone", no_phone),
            ("spur", spur),
            ("tank", tank is TankKnown.UNKNOWN),
            ("tank_reckoned", tank is TankKnown.RECKONED),
            ("estimated_roads", estimated_roads),
        )
        if holds
    ]
    own = dict.fromkeys(key for key in keys if key)
    return (*own, *(key for key in STANDING if key not in own))
