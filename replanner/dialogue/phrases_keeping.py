"""Phrases that keep: plans asked for now, quiet, the log, pictures, a rider's own data.

How to write one: see `phrases`. A line that logs several legs is read by `log_line`.
"""

from collections.abc import Mapping

from replanner.dialogue.topics import Topic

KEEPING_PHRASES: Mapping[Topic, tuple[str, ...]] = {
    Topic.PLAN_NOW: (
        "plan",
        "plan <day>",
        "plan for|of <day>",
        "show|make|give [me] [new] plan for|of <day>",
        "make [new] plan",
        "new plan",
        "whats|what plan for|of <day>",
    ),
    Topic.LOOK_AGAIN: (
        "new|fresh|latest forecast",
        "check [plan|it|forecast|weather] again",
        "look [again] at forecast|weather",
        "anything changed|new|different",
        "has anything changed",
        "whats new",
        "does it|plan still hold",
        "is plan still good|valid|ok",
        "still good|valid",
        "update [plan|forecast]",
    ),
    Topic.LOG: ("done", "log [day|it]", "what was ridden", "log today"),
    Topic.HOME_SAFE: (
        "home safe",
        "home and dry",
        "arrived [safe|safely|home]",
        "got home|in [safe|safely]",
        "in safe|safely",
        "all in|home [safe|safely]",
        "day is over|done",
    ),
    Topic.QUIET: (
        "quiet|silence|mute|hush",
        "be|keep quiet|silent",
        "shut up",
        "mute|quiet until|till evening|tonight",
        "no more messages [today]",
        "stop messages",
        "leave in peace",
    ),
    Topic.QUIET_NIGHT: (
        "mute|quiet|silence until|till morning|tomorrow",
        "be quiet until|till morning|tomorrow",
        "no [more] messages until|till morning|tomorrow",
        "no [more] messages tonight",
        "sleep [now]",
    ),
    Topic.SPEAK_AGAIN: (
        "speak|talk again",
        "speak|talk to me [again]",
        "unmute",
        "messages on|again",
        "end quiet",
        "start messages",
    ),
    Topic.PICTURE: (
        "picture|map|drawing|chart",
        "send|show [me] picture|map|drawing|chart",
        "picture|map|chart of day|plan",
    ),
    Topic.TRACK: (
        "gpx|route|track",
        "send|give|show [me] gpx|route|track [file]",
        "gpx|track file|of day|plan",
        "file for navigator|gps",
    ),
    Topic.EXPORT: (
        "export|download data",
        "export|download all data|everything",
        "what do know|keep about me",
        "send|give [me] [all] data",
    ),
    Topic.ERASE: (
        "erase|delete data",
        "erase|delete all data",
        "erase|delete everything",
        "forget me",
    ),
}
