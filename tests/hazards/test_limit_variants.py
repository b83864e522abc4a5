"""A rider's own limit holds under stricter circumstances too: no variant may be forgotten."""

import pytest

from replanner.hazards.limits import Limits
from replanner.hazards.party import party_of
from replanner.hazards.register import HAZARDS
from replanner.trip.model import Rider

# A limit whose name extends another's is that one under stricter circumstances, unless it is the
# limit of a hazard of its own ("gust_spread" is not a gust).
_OWN = {hazard.name for hazard in HAZARDS}


def variants(limits: Limits) -> list[tuple[str, str]]:
    """Return (limit, variant) pairs by their names."""
    return [
        (base, name)
        for name in limits.limits
        for base in limits.limits
        if name.startswith(f"{base}_") and name not in _OWN
    ]


def test_there_are_variants_to_forget(limits: Limits) -> None:
    assert ("rain", "rain_exposed") in variants(limits)
    assert ("gust", "gust_spread") not in variants(limits)
    assert len(variants(limits)) >= 6


def test_an_own_limit_tightens_every_variant_of_it(limits: Limits) -> None:
    for base, variant in variants(limits):
        limit = limits[variant]
        stricter = limit.clear  # where nothing is felt yet: stricter than any caution
        rider = Rider(id="a", own_limits={base: (stricter, None, None)})
        assert party_of([rider], limits).limit(limits, variant).caution == pytest.approx(stricter)
        assert limit.caution != stricter
