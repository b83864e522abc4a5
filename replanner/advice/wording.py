"""How each hazard is called and shown: the only place that knows hazard names as words.

`HAZARDS` follows `hazards.register`. A hazard it does not know still reads sensibly, by its name
with blanks, so that adding a hazard needs no change here to work.
"""

import re
from collections.abc import Mapping
from typing import NamedTuple

from replanner.advice.words import Words
from replanner.hazards.model import AVOID, CAUTION, NO_GO


class HazardWording(NamedTuple):
    """How a hazard is told.

    Parameters
    ----------
    noun : str
        What it is called.
    seen : str
        What the rider would see of it at a decision point; may hold ``{limit}``.
    told, brief : str
        The hazard with ``{value}`` and ``{limit}``, and with ``{value}`` alone; the limit, or
        the value where there is none, comes with its unit.
    falling : bool
        True where a smaller figure is worse (sight, cold, minutes to dusk).
    from_nothing : bool
        True where only figures above zero are worth telling (rain before, minutes left).
    decides : bool
        False where seeing it is no ground to take another road.
    alone : str
        What it is called without a figure; empty: its noun.
    by_code : str
        What it is called where no figure shows it but the weather code of the hour; empty: its
        noun.
    span_hours : float
        Over how many hours the figure is a sum, for ``{span}``: figures of `config/limits.toml`.
    caution : str
        Key of the caution that goes with it in `advice.cautions`; empty: none.
    """

    noun: str
    seen: str
    told: str = "{hazard} {value}, limit {limit}"
    brief: str = "{hazard} {value}"
    falling: bool = False
    from_nothing: bool = False
    decides: bool = True
    alone: str = ""
    by_code: str = ""
    span_hours: float = 0.0
    caution: str = ""


_RAIN_BEFORE = "{hazard}, {span} rain {value}, limit {limit}"
_RAIN_BEFORE_BRIEF = "{hazard}, {span} rain {value}"

HAZARDS: Mapping[str, HazardWording] = {
    "gust": HazardWording("gust", "gusts over {limit}", alone="gusts", caution="wind"),
    "crosswind": HazardWording("side wind", "side wind over {limit}", caution="wind"),
    "mean_wind": HazardWording("wind", "wind over {limit}", caution="wind"),
    "gust_spread": HazardWording(
        "sudden gusts",
        "sudden gusts",
        "gusts {value} above the wind, limit {limit}",
        "gusts {value} above the wind",
        caution="wind",
    ),
    "rain": HazardWording("rain", "rain", caution="wet"),
    "wet_road": HazardWording(
        "wet road",
        "road still wet",
        told="{hazard}, dry in {value}",
        brief="{hazard}, dry in {value}",
        from_nothing=True,
        caution="wet",
    ),
    "wet_track": HazardWording(
        "wet track",
        "track still wet",
        _RAIN_BEFORE,
        _RAIN_BEFORE_BRIEF,
        span_hours=24.0,
        from_nothing=True,
        caution="wet",
    ),
    "wet_steep": HazardWording(
        "wet and steep",
        "road still wet",
        "wet, {value} steep, narrow",
        "wet, {value} steep, narrow",
        caution="wet",
    ),
    "gravel": HazardWording(
        "gravel",
        "wet gravel",
        _RAIN_BEFORE,
        _RAIN_BEFORE_BRIEF,
        span_hours=12.0,
        from_nothing=True,
        caution="loose",
    ),
    "chippings": HazardWording(
        "loose chippings",
        "loose chippings",
        "{hazard}, laid {value} ago",
        "{hazard}, laid {value} ago",
        falling=True,
        caution="loose",
    ),
    "frost": HazardWording(
        "frost",
        "frost",
        "{hazard}, air {value}, limit {limit}",
        "{hazard}, air {value}",
        falling=True,
        by_code="snow or freezing rain",
        caution="ice",
    ),
    "visibility": HazardWording(
        "fog",
        "sight under {limit}",
        "{hazard}, sight {value}, limit {limit}",
        "{hazard}, sight {value}",
        falling=True,
        by_code="fog by the weather code",
        caution="sight",
    ),
    "cloud_base": HazardWording(
        "low cloud",
        "cloud on the road",
        "{hazard} {value} above the road, limit {limit}",
        "{hazard} {value} above the road",
        falling=True,
        from_nothing=True,
        caution="sight",
    ),
    "thunder": HazardWording(
        "thunder",
        "thunder",
        "{hazard}, chance {value}, limit {limit}",
        "{hazard}, chance {value}",
        caution="thunder",
    ),
    "heat": HazardWording("heat", "heat over {limit}", caution="heat"),
    "wind_chill": HazardWording("wind chill", "hands going cold", falling=True, caution="cold"),
    "low_sun": HazardWording(
        "low sun",
        "sun in your eyes",
        "{hazard} ahead",
        "{hazard} ahead",
        falling=True,
        decides=False,
        caution="sun",
    ),
    "darkness": HazardWording(
        "darkness",
        "dusk coming",
        "dark in {value}, limit {limit}",
        "dark in {value}",
        falling=True,
        from_nothing=True,
        caution="dark",
    ),
    "dusk_animals": HazardWording(
        "animals at dusk",
        "animals on the road",
        "{hazard}, sunset in {value}, limit {limit}",
        "{hazard}, sunset in {value}",
        falling=True,
        from_nothing=True,
        caution="animals",
    ),
    "stopped_crossing": HazardWording(
        "boat may not run",
        "no boat",
        "{hazard}, gust {value}, limit {limit}",
        "{hazard}, gust {value}",
        caution="boat",
    ),
    "reported_wind": HazardWording(
        "wind riders met", "riders met wind", "{hazard}", "{hazard}", caution="wind"
    ),
    "reported_wet": HazardWording(
        "wet road riders met", "riders met it wet", "{hazard}", "{hazard}", caution="wet"
    ),
    "reported_gravel": HazardWording(
        "loose stones riders met", "riders met stones", "{hazard}", "{hazard}", caution="loose"
    ),
    "reported_mud": HazardWording(
        "mud riders met", "riders met mud", "{hazard}", "{hazard}", caution="loose"
    ),
    "reported_slippery": HazardWording(
        "slippery road riders met", "riders slipped", "{hazard}", "{hazard}", caution="loose"
    ),
    "reported_fog": HazardWording(
        "fog riders met", "riders met fog", "{hazard}", "{hazard}", caution="sight"
    ),
}


def wording_of(hazard: str) -> HazardWording:
    """Return how a hazard is told; an unknown one by its own name with blanks."""
    known = HAZARDS.get(hazard)
    if known is not None:
        return known
    plain = " ".join(re.sub(r"[^\w ]|_", " ", hazard).split()) or "hazard"
    return HazardWording(plain, plain)


def noun(hazard: str, words: Words) -> str:
    """Return what a hazard is called."""
    return words.say(wording_of(hazard).noun)


def level_word(severity: float, words: Words) -> str:
    """Return the trade's word for a level: go, caution, avoid or no-go."""
    if severity >= NO_GO:
        return words.say("no-go")
    if severity >= AVOID:
        return words.say("avoid")
    if severity >= CAUTION:
        return words.say("caution")
    return words.say("go")


# IPCC AR4, Working Group I, box TS.1: likelihood terms; bounds in percent. On a bound the less
# confident word is taken.
def chance_word(percent: int, words: Words) -> str:
    """Return the likelihood word of a chance in percent."""
    if percent > 90:  # noqa: PLR2004 - the bounds are the published table
        return words.say("Very likely")
    if percent > 66:  # noqa: PLR2004
        return words.say("Likely")
    if percent >= 33:  # noqa: PLR2004
        return words.say("As likely as not")
    if percent >= 10:  # noqa: PLR2004
        return words.say("Unlikely")
    return words.say("Very unlikely")
