"""A built day with its breaks: split by what has been ridden since the last one."""

from dataclasses import replace

import numpy as np

from replanner.planning.build import BuiltDay, BuiltLeg
from replanner.planning.leg_rest import longest_ride_slots, pause_slots, whole_slots
from replanner.planning.rest import Rest, split_by_rest

# Into how many places a day is split by its breaks: a search takes about as many times longer.
# Where exact levels are more, coarser ones have breaks taken too early, which may cost a boat: on
# the road a day of seven legs has up to 30. Assumption.
MOST_NODES = 32


def rested(built: BuiltDay, ridden_minutes: float = 0.0, most_nodes: int = MOST_NODES) -> BuiltDay:
    """Return a day every plan of which has its breaks, the legs numbered alike.

    Parameters
    ----------
    ridden_minutes : float
        Since the last break when the day begins. [min]
    most_nodes : int
        As `rest.split_by_rest`.
    """
    rules = built.rules
    rest = Rest(
        most=longest_ride_slots(rules),
        pause=pause_slots(rules),
        legs=tuple(tuple(way.rest for way in one.ways) for one in built.legs),
        road_slots=whole_slots(np.nan_to_num(built.connector_minutes, nan=0.0), rules),
        ridden=min(
            int(whole_slots(np.array([ridden_minutes]), rules)[0]), longest_ride_slots(rules)
        ),
    )
    day = split_by_rest(built.problem, rest, most_nodes)
    places = tuple(place for place, _ in day.nodes)
    pairs = np.ix_(places, places)
    minutes = built.connector_minutes[pairs].copy()
    for (here, there), pauses in day.pauses.items():
        minutes[here, there] += len(pauses) * rules.break_minutes
    return replace(
        built,
        problem=day.problem,
        legs=tuple(
            BuiltLeg(leg=one.leg, ways=tuple(one.ways[way] for way in ways))
            for one, ways in zip(built.legs, day.ways, strict=True)
        ),
        places=tuple(built.places[place] for place in places),
        connector_minutes=minutes,
        connector_estimated=built.connector_estimated[pairs],
        connector_km=built.connector_km[pairs],
        pauses=day.pauses,
    )
