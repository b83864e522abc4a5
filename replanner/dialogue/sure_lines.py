"""The line of each topic that is understood without doubt; its slots are filled by whole names."""

from collections.abc import Mapping

from replanner.dialogue.road_intent import ROAD_LINES
from replanner.dialogue.topics import EXAMPLES, Topic

_LINES: Mapping[Topic, tuple[str, ...]] = {
    **ROAD_LINES,
    Topic.SKIP: ("skip {legs}",),
    Topic.RIDE: ("ride {legs} anyway",),
    Topic.CLOSED: ("closed {legs}",),
    Topic.OPENED: ("open {legs}",),
    Topic.IS_OPEN: ("any closures", "is {legs} open"),
    Topic.SWAP_DAY: ("swap {leg} with {day}",),
    Topic.SWAP_WHOLE_DAY: ("swap with {day}",),
    Topic.SWAP_LEGS: ("swap {leg} and {other}",),
    Topic.IN_ORDER: ("{leg} before {other}",),
    Topic.LEAVE_AT: ("leave at {time}",),
    Topic.WHY_LEG: ("why {leg}",),
    Topic.WEATHER_LEG: ("weather on {leg}", "whats weather on {leg} at {time}"),
    Topic.TONIGHT: ("tonight", "{leg} tonight"),
    Topic.PLAN_NOW: ("plan", "plan {day}"),
    Topic.LATE: ("late", "late {minutes}"),
    Topic.STOPPING: ("stopping here", "stopping {minutes}"),
    Topic.MOVING: ("moving again", "moving at {time}"),
    Topic.AT_PLACE: ("at {place}", "now on {legs}"),
    Topic.STAY: ("stay another night", "stay at {place}"),
    Topic.FUEL: ("where is fuel", "fuel {distance}"),
    Topic.FUEL_LEFT: ("{distance} left",),
    Topic.FUEL_AHEAD: ("fuel in {distance}",),
    Topic.FILLED: ("filled up", "filled up at {place}"),
    Topic.LIMIT: ("limits", "limit is {speed}"),
    Topic.TIDE_BOARD: ("when is tide", "tide board says {time}"),
    Topic.LOG: ("log",),
    Topic.ACCEPT: ("accept",),
}
# What is told of where they are; of a leg it is the line of the road.
_HERE: Mapping[Topic, str] = {
    Topic.RIDDEN: "done",
    Topic.GRAVEL: "gravel here",
    Topic.MUD: "mud here",
    Topic.SLIPPERY: "slippery here",
    Topic.SWEPT: "gravel has been swept",
    Topic.WIND_SEEN: "windy here",
    Topic.BLOWN: "blown about",
    Topic.WET_SEEN: "wet here",
    Topic.FOG_SEEN: "foggy here",
    Topic.DRY_SEEN: "dry here",
    Topic.BOAT: "ferry is off",
    Topic.BOAT_MISSED: "missed the ferry",
    Topic.TURNING_BACK: "turning back",
    Topic.REVERSE: "reverse it",
    Topic.DRONE: "drone",
    Topic.NEXT_BOAT: "next boat",
    Topic.SIGN_SEEN: "saw the sign",
    Topic.HEARSAY: "somebody told me",
    Topic.GROUP: "one rider leaving",
    Topic.BREAKDOWN: "breakdown",
    Topic.EMERGENCY: "need help",
    Topic.OWN_ORDER: "what if own order",
}


def sure_line(topic: Topic, slots: Mapping[str, str]) -> str:
    """Return the line of a topic that says just what fills its slots.

    Parameters
    ----------
    topic : Topic
    slots : mapping of str to str
        By name of the slot; "leg" may stand for "legs" and the other way round.
    """
    slots = {slot: said for slot, said in slots.items() if slot != "remark"}
    for shape in (*_LINES.get(topic, ()), _HERE.get(topic, _by_itself(topic))):
        filled = dict(slots)
        if "{legs}" in shape and "leg" in filled:
            filled["legs"] = filled.pop("leg")
        if "{leg}" in shape and "legs" in filled:
            filled["leg"] = filled.pop("legs")
        if all(f"{{{slot}}}" in shape for slot in filled) and shape.count("{") == len(filled):
            return shape.format(**filled)
    return _by_itself(topic)


def _by_itself(topic: Topic) -> str:
    example = EXAMPLES.get(topic, "")
    return str(topic) if not example or "..." in example else example
