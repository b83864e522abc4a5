"""The phrases that are understood, as data: add a line here and a case in the tests.

How to write one: plain lower-case words without apostrophes; ``a|b`` is either word, ``[word]``
may be missing. ``<leg>`` and ``<other>`` stand for a leg's name, ``<legs>`` for one or several,
``<time>`` for a time of day, ``<day>`` for a day, ``<minutes>`` for a stretch of time,
``<remark>`` for anything. Words of `NOISE` are dropped from phrase and line alike, so never build
a phrase on them alone.
"""

from collections.abc import Mapping

from replanner.dialogue.phrases_asking import ASKING_PHRASES
from replanner.dialogue.phrases_changing import CHANGING_PHRASES
from replanner.dialogue.phrases_keeping import KEEPING_PHRASES
from replanner.dialogue.phrases_road import ROAD_PHRASES
from replanner.dialogue.topics import Topic

_NOISE = """
the a an please pls plz just well so hey hi hello thanks thank you cheers mate i im ill
we were us our my let lets id really maybe kindly lol haha tbh
"""
NOISE = frozenset(_NOISE.split())
_TELLS_NOTHING = """
is are was been be am has have had it its of to on at in for by there theres better get got then
with afternoon noon
"""
# Words that tell no topics apart, and name no leg by themselves.
SMALL = NOISE | frozenset(_TELLS_NOTHING.split())

# Words that open a wish as a question: it is shown as a trial first.
ASKING = frozenset({"should", "shall", "could", "can", "may", "might"})

# A wish after one of these is a what-if. The longest that fits is taken.
TRIAL_OPENERS: tuple[str, ...] = (
    "what would happen if",
    "what happens if",
    "would it help if",
    "would it help to",
    "would it be better to",
    "is it better to",
    "would it be better if",
    "would it be ok to",
    "would it be ok if",
    "is it ok to",
    "is it ok if",
    "how would it look if",
    "what would change if",
    "what changes if",
    "what about if",
    "and if",
    "what if",
    "how about",
    "what about",
    "suppose",
    "supposing",
    "imagine",
    "try",
    "if",
)

# Any of these words anywhere, unless a name of the tour holds it, is a call for help.
_EMERGENCY = """
sos mayday crash crashed accident ambulance emergency injured injury bleeding unconscious
collision helpme
"""
EMERGENCY_WORDS = frozenset(_EMERGENCY.split())

PHRASES: Mapping[Topic, tuple[str, ...]] = {
    **ROAD_PHRASES,
    **CHANGING_PHRASES,
    **ASKING_PHRASES,
    **KEEPING_PHRASES,
}
