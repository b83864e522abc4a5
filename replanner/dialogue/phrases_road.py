"""Phrases of the road, calls for help among them. How to write one: see `phrases`."""

from collections.abc import Mapping

from replanner.dialogue.phrases_met import MET_PHRASES
from replanner.dialogue.phrases_party import PARTY_PHRASES
from replanner.dialogue.phrases_where import WHERE_PHRASES
from replanner.dialogue.topics import Topic

ROAD_PHRASES: Mapping[Topic, tuple[str, ...]] = {**PARTY_PHRASES, **MET_PHRASES, **WHERE_PHRASES}
