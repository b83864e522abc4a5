"""The plain roads of a plan: the worst met on them, in one line of about 60 characters."""

from functools import partial

from replanner.advice.briefing import PlannedRoad
from replanner.advice.fitting import squeezed
from replanner.advice.telling import Telling
from replanner.hazards.model import CAUTION, NO_GO


def worst_road(telling: Telling) -> PlannedRoad | None:
    """Return the plain road that meets the worst known; None: nothing is worth a word there.

    One that the riders wait for is told before a harmless one: leaving at once would be worse.
    """
    roads = [
        road
        for road in telling.briefing.roads or ()
        if road.waits
        or (road.severity >= CAUTION and road.hazard is not None and not road.hazard.unknown)
    ]
    return max(roads, key=lambda road: (road.severity, road.waits), default=None)


def no_go_road(telling: Telling) -> PlannedRoad | None:
    """Return a plain road of the plan that is no-go."""
    road = worst_road(telling)
    return None if road is None or road.severity < NO_GO else road


def road_line(telling: Telling) -> str:
    """Return the worst met on plain road, or until when to wait for something better."""
    road = worst_road(telling)
    if road is None:
        return ""
    line = partial(_line, telling, road)
    return squeezed(line, partial(line, limit=False), partial(line, figure=False), whole=2)


def _line(
    telling: Telling, road: PlannedRoad, width: int, *, limit: bool = True, figure: bool = True
) -> str:
    say, note = telling.words.say, road.hazard
    place, time = telling.place(road.end, width), telling.figures.clock(road.leave)
    if road.severity < CAUTION or note is None or note.unknown:
        return say("Not before {time} to {place}: worse till then", place=place, time=time)
    reason = telling.reason(note, width=0, limit=limit, figure=figure)
    if road.severity >= NO_GO:
        return say("No-go: road to {place} {reason}", place=place, reason=reason)
    if road.waits:
        return say("Not before {time} to {place}: {reason}", place=place, time=time, reason=reason)
    return say("Road to {place} {reason}", place=place, reason=reason)
