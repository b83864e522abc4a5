"""How long a road stays wet after rain.

No authority gives drying times; every figure is an assumption of `config/limits.toml`
(`[figures.wet]`). A road takes its base hours to dry: longer in the shade of trees, in the cold
and in calm air, shorter in wind and in the sun. Each dry hour dries its share.
"""

from functools import reduce

import numpy as np
from numpy.typing import NDArray

from replanner.hazards.known import Bounds
from replanner.hazards.limits import Limits
from replanner.hazards.model import Conditions, Floats, Stretch
from replanner.trip.model import SurfaceClass


def hours_to_dry(stretch: Stretch, conditions: Conditions, limits: Limits) -> Bounds:
    """Return the hours the road still needs to dry at the start of each hour; 0 is dry.

    While it rains that is the whole drying time. Where rain amounts are missing, or before the
    table begins, it may or may not have rained: the bounds differ until the road must be dry.

    Returns
    -------
    Bounds
        Shape of the columns. [h]
    """
    # several hazards and the pace ask for it: once worked out, it is kept with the conditions
    road = ("hours to dry", stretch.surface is SurfaceClass.SEALED, stretch.road.trees)
    kept_limits, kept = conditions.worked_out.get(road, (None, None))
    if kept is None or kept_limits is not limits:
        kept = _hours_to_dry(stretch, conditions, limits)
        conditions.worked_out[road] = limits, kept
    return Bounds(*kept)


def _hours_to_dry(stretch: Stretch, conditions: Conditions, limits: Limits) -> Bounds:
    hours = _drying_hours(stretch, limits)
    # what fell longer ago has dried, whatever the air was like since
    enough = int(np.ceil(hours.max())) + 1
    skipped = max(conditions.memory - enough, 0)
    memory = conditions.memory - skipped
    needs = hours.take(_kind_of_air(stretch, conditions, limits)[..., skipped:])
    amount = conditions.with_memory("precipitation_amount")[..., skipped:]
    trace = limits.figure("wet.trace_mm")
    rained, may_have = amount >= trace, ~(amount < trace)
    shape = np.broadcast_shapes(needs.shape, amount.shape)
    dried = np.cumsum(np.broadcast_to(1.0 / needs, shape), axis=-1)
    before = np.zeros(shape)
    before[..., 1:] = dried[..., :-1]
    later = slice(memory, None)
    at_least = _left(np.where(rained, dried, -np.inf), before, later) * needs[..., later]
    # what fell before the table begins has dried by then, and no amount is missing
    if (before[..., later][..., :1] >= 1.0).all() and (rained == may_have).all():
        return Bounds(at_least, at_least)
    at_most = _left(np.where(may_have, dried, 0.0), before, later) * needs[..., later]
    return Bounds(at_least, at_most)


def _left(wetted: Floats, before: Floats, hours: slice) -> Floats:
    """Return the share of wetness left at the start of some hours, given when it was wetted."""
    last = np.maximum.accumulate(wetted, axis=-1)[..., hours]
    share = np.minimum(np.maximum(1.0 - (before[..., hours] - last), 0.0), 1.0)
    # shares that add up to one leave dust: a road is dry when less than a millionth is left
    return np.asarray(np.round(share, 6), np.float64)


def _drying_hours(stretch: Stretch, limits: Limits) -> Floats:
    """Return the hours a soaked road would take under each kind of air, shape (16,)."""
    sealed = stretch.surface is SurfaceClass.SEALED
    hours = limits.figure("wet.sealed_hours" if sealed else "wet.unsealed_hours")
    if stretch.road.trees:
        hours *= limits.figure("wet.shade_factor")
    factors = [1.0]
    for each in ("wet.cold_factor", "wet.calm_factor", "wet.windy_factor", "wet.sun_factor"):
        factors += [factor * limits.figure(each) for factor in factors]
    return hours * np.asarray(factors)


def _kind_of_air(stretch: Stretch, conditions: Conditions, limits: Limits) -> NDArray[np.uint8]:
    """Return which of the kinds of air each hour has, with the memory; missing data is slow.

    One is added where it is cold, two where calm, four where windy, eight where the sun is out.
    """
    wind = conditions.with_memory("wind_speed")
    flags = [
        ~(conditions.with_memory("air_temperature") >= limits.figure("wet.cold_below")),
        ~(wind >= limits.figure("wet.calm_below")),
        wind >= limits.figure("wet.windy_from"),
    ]
    if not stretch.road.trees:
        sun = conditions.with_memory("surface_downwelling_shortwave_flux_in_air")
        flags.append(sun >= limits.figure("wet.sun_from"))
    bits = [flag.view(np.uint8) << place for place, flag in enumerate(flags)]
    return np.asarray(reduce(np.bitwise_or, bits), np.uint8)
