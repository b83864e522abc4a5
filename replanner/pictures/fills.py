"""How areas are filled, so that they are told apart in grey and by every eye.

Two fills that lie beside each other differ in pattern and in luminance both; words say the same.
The colours follow a palette made for colour-blind readers (Okabe and Ito 2008, Color universal
design). tests/pictures/test_fills.py holds them against the published models.
"""

from enum import Enum
from typing import NamedTuple

from replanner.hazards.model import AVOID, CAUTION, NO_GO


class Pattern(Enum):
    """What lies over a colour: slanted lines or dots."""

    PLAIN = "plain"
    RISING = "lines that rise"
    FALLING = "lines that fall, close together"
    CROSSED = "crossed lines"
    CLOSELY_CROSSED = "crossed lines, close together"
    DOTS = "dots"

    @property
    def rises(self) -> bool:
        """Return whether it has lines that rise to the right."""
        return self in {Pattern.RISING, Pattern.CROSSED, Pattern.CLOSELY_CROSSED}

    @property
    def falls(self) -> bool:
        """Return whether it has lines that fall to the right."""
        return self in {Pattern.FALLING, Pattern.CROSSED, Pattern.CLOSELY_CROSSED}

    @property
    def lines(self) -> int:
        """Return how many times as close its lines are as the widest."""
        return 2 if self in {Pattern.FALLING, Pattern.CLOSELY_CROSSED} else 1


class Fill(NamedTuple):
    """A colour with the pattern over it."""

    colour: str
    pattern: Pattern = Pattern.PLAIN


GO = Fill("#ffffff")
CAUTIOUS = Fill("#e69f00", Pattern.RISING)
BETTER_NOT = Fill("#b34700", Pattern.CLOSELY_CROSSED)
FORBIDDEN = Fill("#000000")
LEVELS = (GO, CAUTIOUS, BETTER_NOT, FORBIDDEN)

DAY = Fill("#ffffff")
TWILIGHT = Fill("#a9b4c2", Pattern.DOTS)
NIGHT = Fill("#1f2a38")
LIGHTS = (DAY, TWILIGHT, NIGHT)

RAIN = Fill("#56b4e9", Pattern.FALLING)
GUST = Fill("#707070")
NOT_RIDDEN = Fill("#ffffff")
UNKNOWN = Fill("#f2f2f2", Pattern.CROSSED)

INK, PAPER, PALE = "#000000", "#ffffff", "#c8c8c8"


def level_fill(severity: float) -> Fill:
    """Return the fill of a level: go, caution, avoid or no-go."""
    if severity >= NO_GO:
        return FORBIDDEN
    if severity >= AVOID:
        return BETTER_NOT
    return CAUTIOUS if severity >= CAUTION else GO
