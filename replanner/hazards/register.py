"""Every hazard that is looked at. Adding one: its module, its line here, its limits in config."""

from replanner.hazards import (
    chippings,
    cloud_base,
    crosswind,
    darkness,
    dusk_animals,
    fog,
    frost,
    gravel,
    gust,
    gust_spread,
    heat,
    low_sun,
    mean_wind,
    rain,
    reported,
    stopped_crossing,
    thunder,
    wet_road,
    wet_steep,
    wet_track,
    wind_chill,
)
from replanner.hazards.model import Hazard, Kind, Resolution
from replanner.hazards.reported import seen_dry
from replanner.trip.underway import ReportKind

_HOUR, _PASSAGE = Resolution.HOUR, Resolution.PASSAGE

HAZARDS: tuple[Hazard, ...] = (
    Hazard("gust", Kind.WIND, _HOUR, shelter_helps=True, assess=gust.assess),
    Hazard(
        "crosswind", Kind.WIND, _HOUR, shelter_helps=True, assess=crosswind.assess, by_heading=True
    ),
    Hazard("mean_wind", Kind.WIND, _HOUR, shelter_helps=True, assess=mean_wind.assess),
    Hazard("gust_spread", Kind.WIND, _HOUR, shelter_helps=True, assess=gust_spread.assess),
    Hazard("rain", Kind.WET, _HOUR, shelter_helps=True, assess=rain.assess),
    Hazard("wet_road", Kind.WET, _HOUR, shelter_helps=True, assess=seen_dry(wet_road.assess)),
    Hazard("wet_track", Kind.WET, _HOUR, shelter_helps=False, assess=seen_dry(wet_track.assess)),
    Hazard("wet_steep", Kind.WET, _HOUR, shelter_helps=False, assess=wet_steep.assess),
    Hazard("gravel", Kind.SURFACE, _HOUR, shelter_helps=False, assess=gravel.assess),
    Hazard("chippings", Kind.SURFACE, _HOUR, shelter_helps=False, assess=chippings.assess),
    Hazard("frost", Kind.COLD, _HOUR, shelter_helps=False, assess=frost.assess),
    Hazard("wind_chill", Kind.COLD, _HOUR, shelter_helps=False, assess=wind_chill.assess),
    Hazard("heat", Kind.HEAT, _HOUR, shelter_helps=False, assess=heat.assess),
    Hazard("visibility", Kind.SIGHT, _HOUR, shelter_helps=False, assess=fog.assess),
    Hazard("cloud_base", Kind.SIGHT, _HOUR, shelter_helps=True, assess=cloud_base.assess),
    Hazard("thunder", Kind.THUNDER, _HOUR, shelter_helps=True, assess=thunder.assess),
    Hazard(
        "low_sun",
        Kind.LIGHT,
        _PASSAGE,
        shelter_helps=False,
        assess=low_sun.assess,
        by_heading=True,
    ),
    Hazard("darkness", Kind.LIGHT, _PASSAGE, shelter_helps=False, assess=darkness.assess),
    Hazard("dusk_animals", Kind.ANIMALS, _PASSAGE, shelter_helps=False, assess=dusk_animals.assess),
    Hazard(
        "stopped_crossing", Kind.SEA, _HOUR, shelter_helps=False, assess=stopped_crossing.assess
    ),
    *(
        Hazard(
            f"reported_{seen.value}",
            kind,
            _PASSAGE,
            shelter_helps=seen is ReportKind.WIND,
            assess=reported.assess_of(seen),
        )
        for seen, kind in (
            (ReportKind.WIND, Kind.WIND),
            (ReportKind.WET, Kind.WET),
            (ReportKind.GRAVEL, Kind.SURFACE),
            (ReportKind.MUD, Kind.SURFACE),
            (ReportKind.SLIPPERY, Kind.SURFACE),
            (ReportKind.FOG, Kind.SIGHT),
        )
    ),
)


def hazard_named(name: str) -> Hazard:
    """Return the hazard of that name; raises KeyError if there is none."""
    return {hazard.name: hazard for hazard in HAZARDS}[name]
