"""Riders taken together. The shifts are common practice, no source."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from replanner.errors import InputError
from replanner.hazards.limits import Limits
from replanner.hazards.party import looser_limits, party_of
from replanner.trip.model import Experience, Rider, Tyres, TyreWear


def rider(name: str = "r1", **other: object) -> Rider:
    return Rider(id=name, **other)


@pytest.mark.parametrize(
    ("given_rider", "shift"),
    [
        (rider(), 0.0),
        (rider(experience=Experience.NEWER), -3.0),
        (rider(machine_mass_kg=195.0), -2.0),
        (rider(machine_mass_kg=195.0, tall_load=True), -2.0),
        (rider(pillion=True, full_luggage=True), -3.0),
        (rider(experience=Experience.NEWER, tall_load=True, pillion=True, full_luggage=True), -6.0),
    ],
)
def test_wind_shift(limits: Limits, given_rider: Rider, shift: float) -> None:
    assert party_of([given_rider], limits).wind_shift == shift


def test_the_strictest_rider_counts_and_shifts_of_two_do_not_add_up(limits: Limits) -> None:
    party = party_of(
        [rider("a"), rider("b", experience=Experience.NEWER), rider("c", pillion=True)], limits
    )
    assert party.wind_shift == -3.0
    assert party.newer_rider
    assert party.pillion
    assert not party.alone
    assert party_of([rider()], limits).alone


@pytest.mark.parametrize(
    ("given_rider", "added"),
    [
        (rider(), {}),
        (rider(pillion=True), {"gravel": 1.0}),
        (rider(tyres=Tyres.ROAD), {"gravel": 1.0, "chippings": 1.0, "wet_track": 1.0}),
        (rider(experience=Experience.NEWER), {"wet_track": 1.0}),
        (rider(tyre_wear=TyreWear.WORN), {"wet": 1.0}),
        (rider(tyre_wear=TyreWear.NEW), {"wet": 1.0}),
    ],
)
def test_added_levels(limits: Limits, given_rider: Rider, added: dict[str, float]) -> None:
    assert party_of([given_rider], limits).added_levels == added


def test_own_limits_are_the_strictest_step_by_step(limits: Limits) -> None:
    party = party_of(
        [
            rider("a", own_limits={"gust": (12.0, None, 19.0), "visibility": (1500.0, None, None)}),
            rider(
                "b", own_limits={"gust": (13.0, 15.0, 18.0), "visibility": (1200.0, 300.0, None)}
            ),
        ],
        limits,
    )
    gust = party.limit(limits, "gust")
    assert (gust.caution, gust.avoid, gust.no_go) == (12.0, 15.0, 18.0)
    for name in ("visibility", "visibility_exposed"):
        assert party.limit(limits, name).caution == 1500.0
    assert party.limit(limits, "visibility").avoid == 300.0


def test_own_limits_never_loosen(limits: Limits) -> None:
    party = party_of([rider(own_limits={"gust": (30.0, 40.0, 50.0)})], limits)
    assert party.limit(limits, "gust") == limits["gust"]


def test_an_unknown_own_limit_is_told_with_its_place(limits: Limits) -> None:
    riders = [rider("a", own_limits={"gusts": (1.0, None, None)})]
    with pytest.raises(InputError, match=r"riders\.a\.limits\.gusts: there is no limit 'gusts'"):
        party_of(riders, limits)


def test_nobody_is_refused(limits: Limits) -> None:
    with pytest.raises(ValueError, match="at least one rider"):
        party_of([], limits)


RIDERS = st.builds(
    Rider,
    id=st.just("r"),
    experience=st.sampled_from(Experience),
    machine_mass_kg=st.floats(120.0, 350.0),
    tall_load=st.booleans(),
    tyres=st.sampled_from(Tyres),
    tyre_wear=st.sampled_from(TyreWear),
    pillion=st.booleans(),
    full_luggage=st.booleans(),
    own_limits=st.just({}),
)


@given(st.lists(RIDERS, min_size=1, max_size=4), RIDERS)
def test_one_more_rider_never_loosens(limits: Limits, group: list[Rider], more: Rider) -> None:
    before, after = party_of(group, limits), party_of([*group, more], limits)
    assert -6.0 <= after.wind_shift <= before.wind_shift <= 0.0
    assert set(before.added_levels or {}) <= set(after.added_levels or {})


def test_an_own_limit_that_is_looser_is_told_and_does_nothing(limits: Limits) -> None:
    loose = rider(own_limits={"gust": (50.0, 12.0, None), "visibility": (500.0, None, None)})
    told = looser_limits([loose], limits)
    assert [line.split(":")[0] for line in told] == [
        "riders.r1.own_limits.gust.caution",
        "riders.r1.own_limits.visibility.caution",
    ]
    gust = party_of([loose], limits).limit(limits, "gust")
    assert gust.caution is not None
    assert gust.caution <= 12.0
    assert looser_limits([rider(own_limits={"gust": (8.0, None, None)})], limits) == ()
