"""How areas are filled, so that they are told apart in grey and by every eye.

Two fills that lie beside each other differ in pattern and in luminance both; words say the same.
The colours follow a palette made for colour-blind readers (Okabe and Ito 2008, Color universal
design). tests/pictures/test_fills.py holds them against the published models.
"""

from typing import NamedTuple

from replanner.hazards.model import AVOID, CAUTION, NO_GO


class Fill(NamedTuple):
    """A colour with the pattern over it, in matplotlib's hatch letters; empty: plain."""

    colour: str
    pattern: str


GO = Fill("#ffffff", "")
CAUTIOUS = Fill("#e69f00", "/")
BETTER_NOT = Fill("#b34700", "xx")
FORBIDDEN = Fill("#000000", "")
LEVELS = (GO, CAUTIOUS, BETTER_NOT, FORBIDDEN)

DAY = Fill("#ffffff", "")
TWILIGHT = Fill("#a9b4c2", "..")
NIGHT = Fill("#1f2a38", "")
LIGHTS = (DAY, TWILIGHT, NIGHT)

RAIN = Fill("#56b4e9", "\\\\")
GUST = Fill("#707070", "")
NOT_RIDDEN = Fill("#ffffff", "")
UNKNOWN = Fill("#f2f2f2", "x")

INK, PAPER, PALE = "#000000", "#ffffff", "#c8c8c8"


def level_fill(severity: float) -> Fill:
    """Return the fill of a level: go, caution, avoid or no-go."""
    if severity >= NO_GO:
        return FORBIDDEN
    if severity >= AVOID:
        return BETTER_NOT
    return CAUTIOUS if severity >= CAUTION else GO
