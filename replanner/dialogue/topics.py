"""What a line can be about, and how a topic is told to a rider who asks what can be said."""

from collections.abc import Mapping
from enum import StrEnum


class Topic(StrEnum):
    """What a line can be about."""

    EMERGENCY = "emergency"
    HELP = "help"
    COMMANDS = "commands"
    YES = "yes"
    OK = "ok"
    ACCEPT = "accept"
    NO = "no"
    KEEP = "keep my order"
    START_OVER = "start over"
    UNDO = "undo"
    PLAN_B = "plan b"
    SKIP = "skip"
    RIDE = "ride"
    CLOSED = "closed"
    OPENED = "open"
    IS_OPEN = "is it open"
    SWAP_DAY = "swap with a day"
    SWAP_LEGS = "swap two legs"
    SWAP_WHOLE_DAY = "swap the whole day"
    IN_ORDER = "one before the other"
    LEAVE_AT = "leave at"
    WHY = "why"
    WHY_LEG = "why a leg"
    WEATHER_LEG = "weather on a leg"
    READ = "read it again"
    SPEAK = "say it"
    CAUTIONS = "cautions"
    FORECAST = "forecast"
    HOW_SURE = "how sure"
    SPARE = "spare"
    TURN_BACK = "turn back"
    TONIGHT = "tonight"
    LATE = "late"
    OWN_ORDER = "own order"
    FAREWELL = "farewell"
    NEVER_MIND = "never mind"
    PICTURE = "picture"  # before the road: "pucture" is rather a picture than a puncture
    # of the road
    STOPPING = "stopping"
    RIDDEN = "ridden"
    GRAVEL = "gravel"
    MUD = "mud"
    SLIPPERY = "slippery"
    SWEPT = "swept"
    BLOWN = "blown about"
    WET_SEEN = "wet seen"
    FOG_SEEN = "fog seen"
    DRY_SEEN = "dry seen"
    COLD = "cold"
    MOVING = "moving again"
    FUEL_LEFT = "fuel left"
    FUEL_AHEAD = "fuel ahead"
    FILLED = "filled up"
    BOAT_MISSED = "missed the boat"
    NEXT_BOAT = "next boat"
    TURNING_BACK = "turning back"
    HOME = "way home"
    AT_PLACE = "at a place"
    SIGN_SEEN = "sign"
    HEARSAY = "told"
    THUNDER = "thunder"
    TIRED = "tired"
    WIND_SEEN = "wind seen"
    BOAT = "boat"
    TIDE_BOARD = "tide board"
    BREAKDOWN = "breakdown"
    FUEL = "fuel"
    DRONE = "drone"
    LIMIT = "limit"
    LOG = "log"
    HOME_SAFE = "home safe"
    PLAN_NOW = "plan now"
    LOOK_AGAIN = "look again"
    QUIET = "quiet"
    QUIET_NIGHT = "quiet until morning"
    SPEAK_AGAIN = "speak again"
    STAY = "stay"
    REVERSE = "reverse"
    GROUP = "group"
    TRACK = "gpx"
    EXPORT = "export"
    ERASE = "erase"


# Topics whose answer changes the plan, or accepts one: they forgive less when mistyped.
CHANGING = frozenset(
    {
        Topic.YES,
        Topic.OK,
        Topic.ACCEPT,
        Topic.NO,
        Topic.KEEP,
        Topic.START_OVER,
        Topic.UNDO,
        Topic.SKIP,
        Topic.RIDE,
        Topic.OPENED,
        Topic.SWAP_DAY,
        Topic.SWAP_LEGS,
        Topic.SWAP_WHOLE_DAY,
        Topic.IN_ORDER,
        Topic.LEAVE_AT,
        Topic.LATE,
        Topic.STOPPING,
        Topic.RIDDEN,
        Topic.AT_PLACE,
        Topic.TURNING_BACK,
        Topic.HOME,
        Topic.GRAVEL,
        Topic.MUD,
        Topic.SLIPPERY,
        Topic.SWEPT,
        Topic.WIND_SEEN,
        Topic.BLOWN,
        Topic.WET_SEEN,
        Topic.FOG_SEEN,
        Topic.DRY_SEEN,
        Topic.TIRED,
        Topic.COLD,
        Topic.BOAT,
        Topic.BOAT_MISSED,
        Topic.MOVING,
        Topic.FILLED,
        Topic.STAY,
        Topic.REVERSE,
        Topic.HOME_SAFE,
        Topic.LOG,
    }
)

# Examples told to a rider who was not understood, and the shape each topic is shown in.
EXAMPLES: Mapping[Topic, str] = {
    Topic.OK: "ok",
    Topic.WHY: "why",
    Topic.KEEP: "keep my order",
    Topic.PLAN_B: "plan b",
    Topic.SKIP: "skip ...",
    Topic.RIDE: "ride ... all the same",
    Topic.CLOSED: "closed ...",
    Topic.OPENED: "... is open",
    Topic.IS_OPEN: "is ... open",
    Topic.SWAP_DAY: "swap ... with thursday",
    Topic.SWAP_LEGS: "swap ... and ...",
    Topic.LEAVE_AT: "leave at 8:30",
    Topic.LATE: "running 40 late",
    Topic.STOPPING: "lunch 45 min",
    Topic.AT_PLACE: "now on ...",
    Topic.RIDDEN: "done ...",
    Topic.GRAVEL: "gravel on ...",
    Topic.WIND_SEEN: "windy here",
    Topic.TIRED: "tired",
    Topic.FUEL: "where is fuel",
    Topic.FILLED: "filled up",
    Topic.TURNING_BACK: "turning back",
    Topic.HOME: "way home",
    Topic.SPARE: "how long have I got",
    Topic.HOW_SURE: "how sure",
    Topic.FORECAST: "forecast",
    Topic.CAUTIONS: "cautions",
    Topic.PLAN_NOW: "plan tomorrow",
    Topic.LOOK_AGAIN: "new forecast",
    Topic.PICTURE: "picture",
    Topic.TRACK: "gpx",
    Topic.LOG: "done: ...; missed ...",
    Topic.HOME_SAFE: "home safe",
    Topic.QUIET: "quiet",
    Topic.QUIET_NIGHT: "mute until morning",
    Topic.SPEAK_AGAIN: "speak again",
    Topic.EXPORT: "export my data",
    Topic.ERASE: "erase my data",
    Topic.READ: "read it again",
    Topic.SPEAK: "say it",
    Topic.UNDO: "undo",
    Topic.START_OVER: "start over",
    Topic.COMMANDS: "commands",
    Topic.HELP: "help",
}
