"""Rain, wet roads and tracks, gravel and chippings. All weather invented."""

from datetime import date

import numpy as np
import pytest

from replanner.hazards import chippings, gravel, rain, wet_road, wet_steep, wet_track
from replanner.hazards.drying import hours_to_dry
from replanner.hazards.known import rain_in_last
from replanner.hazards.limits import Limits
from replanner.hazards.model import NO_GO, Conditions, HazardFunction, Party, Stretch
from replanner.trip.model import Exposure, LooseChippings
from tests.hazards.conftest import Floats, a_stretch, fair

AFTER = 48  # the hour looked at first: two known dry days lie before
SHADE, COLD, WINDY = {"trees": True}, {"air_temperature": 4.0}, {"wind_speed": 8.0}


def after_rain(amount: float, hours: int = 1, total: int = 80, **other: object) -> Conditions:
    """Return weather dry but for some hours of rain that end as hour AFTER begins."""
    fallen = np.zeros(total)
    fallen[AFTER - hours : AFTER] = amount
    # a dull day unless asked otherwise: no sun to dry by
    return fair(total, **{"surface_downwelling_shortwave_flux_in_air": 0.0,
                          "precipitation_amount": fallen, **other})  # fmt: skip


def levels(assess: HazardFunction, where: Stretch, weather: Conditions, limits: Limits) -> Floats:
    reading = assess(where, weather, Party(), limits)
    assert reading is not None
    return reading.level


def wet_hours(where: Stretch, weather: Conditions, limits: Limits) -> int:
    """Return how many hours after the rain the road is still wet."""
    left = hours_to_dry(where, weather, limits)
    np.testing.assert_array_equal(left.at_least[24:], left.at_most[24:])
    return int((left.at_least[AFTER:] > 0).sum())


def test_a_sealed_road_is_wet_for_two_hours_and_three_in_shade(limits: Limits) -> None:
    # common practice, no source: rain in the last 2 h, 3 h in shade
    weather = after_rain(1.0, wind_speed=3.0)
    assert wet_hours(a_stretch(), weather, limits) == 2
    assert wet_hours(a_stretch(**SHADE), weather, limits) == 3


def test_wet_lingers_in_cold_and_calm_and_goes_in_wind_and_sun(limits: Limits) -> None:
    # common practice, no source
    fields = a_stretch(surface="grass")
    plain = wet_hours(fields, after_rain(1.0, wind_speed=3.0), limits)
    cold = wet_hours(fields, after_rain(1.0, wind_speed=3.0, **COLD), limits)
    calm = wet_hours(fields, after_rain(1.0, wind_speed=0.5), limits)
    windy = wet_hours(fields, after_rain(1.0, **WINDY), limits)
    sunny = wet_hours(
        fields,
        after_rain(1.0, wind_speed=3.0, surface_downwelling_shortwave_flux_in_air=600.0),
        limits,
    )
    assert windy < plain < cold
    assert sunny < plain < calm


def test_the_road_cannot_be_known_dry_before_it_had_time_to_dry(limits: Limits) -> None:
    left = hours_to_dry(a_stretch(), fair(10, wind_speed=3.0), limits)
    unknown = np.flatnonzero(left.at_least != left.at_most)
    assert unknown.tolist() == [0, 1]


def test_rain_classes_as_levels(limits: Limits) -> None:
    # 0.10 and 0.25 inch an hour, classes of highway capacity practice
    weather = fair(4, precipitation_amount=[0.0, 0.1, 2.5, 6.4])
    assert levels(rain.assess, a_stretch(), weather, limits)[3] == pytest.approx(3.0)
    open_road = a_stretch(exposure=Exposure.EXPOSED)
    assert levels(rain.assess, open_road, weather, limits)[:3] == pytest.approx([0.0, 2.0, 3.0])
    track = a_stretch(surface="grass")
    assert levels(rain.assess, track, weather, limits) == pytest.approx([0.0, 2.0, 3.0, 4.0])


def test_wet_road_is_caution_and_the_first_rain_after_a_dry_spell_worse(limits: Limits) -> None:
    # common practice, no source: first rain after five dry days
    fallen = np.zeros(140)
    fallen[[125, 126]] = 1.0
    found = levels(wet_road.assess, a_stretch(), fair(140, precipitation_amount=fallen), limits)
    assert found[124] == 0
    assert found[125] == 3
    assert found[126] == 2
    # less than the whole spell seen: only wet
    short = levels(wet_road.assess, a_stretch(), after_rain(1.0), limits)
    assert short[AFTER - 1] == 2


def test_rain_sums_know_what_they_do_not_know() -> None:
    weather = fair(6, precipitation_amount=[1.0, 0.0, np.nan, 2.0, 0.0, 0.0])
    found = rain_in_last(weather, 2)
    assert found.at_least.tolist() == [1, 1, 1, 2, 2, 2]
    assert found.at_most.tolist() == [np.inf, np.inf, np.inf, np.inf, np.inf, 2]


def test_track_after_rain(limits: Limits) -> None:
    # common practice, no source: rain within 24 h caution, 6 h avoid, raining or a soaking no-go
    track = a_stretch(surface="grass")
    found = levels(wet_track.assess, track, after_rain(1.0), limits)
    assert found[AFTER - 1] == NO_GO
    assert (found[AFTER : AFTER + 6] == 3).all()
    assert (found[AFTER + 6 : AFTER + 24] == 2).all()
    assert (found[AFTER + 24 :] == 0).all()
    soaked = levels(wet_track.assess, track, after_rain(3.0, hours=2), limits)
    assert (soaked[AFTER : AFTER + 5] == NO_GO).all()


def test_clay_stays_no_go_for_two_days(limits: Limits) -> None:
    # a council's notice: keep off unsealed roads for at least 48 h after rain
    fallen = np.zeros(120)
    fallen[50] = 0.5
    found = levels(
        wet_track.assess, a_stretch(surface="clay"), fair(120, precipitation_amount=fallen), limits
    )
    assert (found[50:99] == NO_GO).all()
    assert found[100] == 0


def test_dew_in_the_shade_before_ten_by_the_wall_clock(limits: Limits) -> None:
    # common practice, no source. 2027-04-02 00:00 UTC is hour 0; the tour's zone is 13 h ahead to
    # hour 37, when its clocks go back, and 12 h ahead from hour 38 on: 10:00 is hour 46, not 45.
    weather = fair(60, dew_point_temperature=17.5)
    shade = levels(wet_track.assess, a_stretch(surface="grass", **SHADE), weather, limits)
    assert (shade[35:46] == 3).all()
    assert (shade[46:59] == 0).all()
    in_the_open = levels(wet_track.assess, a_stretch(surface="grass"), weather, limits)
    assert (in_the_open[35:46] == 0).all()


def test_wet_and_steep_and_narrow_is_no_go_where_each_alone_is_caution(limits: Limits) -> None:
    # common practice, no source
    lane = {"steepest_grade_percent": 17.0, "width_m": 2.5}
    wet = after_rain(1.0, wind_speed=3.0)
    both = levels(wet_steep.assess, a_stretch(**lane), wet, limits)
    assert (both[AFTER - 1 : AFTER + 2] == NO_GO).all()
    assert (both[AFTER + 2 :] == 0).all()
    for gone in lane:
        some = {key: value for key, value in lane.items() if key != gone}
        assert wet_steep.assess(a_stretch(**some), wet, Party(), limits) is None
    assert levels(wet_road.assess, a_stretch(**lane), wet, limits)[AFTER - 1] == 2
    dry = levels(wet_steep.assess, a_stretch(**lane), fair(60), limits)
    assert (dry[24:] == 0).all()


def test_a_track_of_unknown_width_is_narrow(limits: Limits) -> None:
    track = a_stretch(surface="grass", steepest_grade_percent=17.0)
    assert levels(wet_steep.assess, track, after_rain(1.0), limits)[AFTER] == NO_GO


def test_gravel_dry_damp_and_soaked(limits: Limits) -> None:
    # more than 5 mm in 12 h: avoid (common practice, no source)
    road = a_stretch(surface="gravel")
    assert levels(gravel.assess, road, fair(60), limits)[AFTER] == 1.5
    assert levels(gravel.assess, road, after_rain(0.5), limits)[AFTER] == pytest.approx(2.0)
    assert levels(gravel.assess, road, after_rain(2.5, hours=2), limits)[AFTER] == 3
    assert gravel.assess(a_stretch(), fair(), Party(), limits) is None


def dressed(laid: date, until: date = date(2027, 4, 10)) -> Stretch:
    return a_stretch(chippings=LooseChippings(laid=laid, assumed_until=until))


def test_chippings_by_day_and_dry_are_caution_and_worse_otherwise(limits: Limits) -> None:
    # common practice, no source: taken dry and by day, or told with a caution
    loop = dressed(date(2027, 3, 27))
    assert levels(chippings.assess, loop, fair(60), limits)[AFTER] == 2
    assert levels(chippings.assess, loop, fair(60, minutes_to_dusk=-5.0), limits)[AFTER] == 3
    assert levels(chippings.assess, loop, after_rain(1.0), limits)[AFTER] == 3
    assert levels(chippings.assess, loop, after_rain(4.0, hours=2), limits)[AFTER] == 3.5
    two_up = chippings.assess(loop, fair(60), Party(pillion=True), limits)
    assert two_up is not None
    assert two_up.level[AFTER] == 3


def test_chippings_are_deep_when_fresh_and_gone_when_swept(limits: Limits) -> None:
    # UK councils: swept after about a day, three to four days, a week; loose 7 to 14 days
    assert levels(chippings.assess, dressed(date(2027, 4, 3)), fair(60), limits)[AFTER] == 3
    swept = dressed(date(2027, 3, 20), date(2027, 4, 1))
    assert levels(chippings.assess, swept, fair(60), limits)[AFTER] == 0
    later = dressed(date(2027, 4, 8), date(2027, 4, 20))
    assert levels(chippings.assess, later, fair(60), limits)[AFTER] == 0
