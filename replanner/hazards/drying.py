"""How long a road stays wet after rain.

No authority gives drying times; every figure is an assumption of `config/limits.toml`
(`[figures.wet]`). A road takes its base hours to dry: longer in the shade of trees, in the cold
and in calm air, shorter in wind and in the sun. Each dry hour dries its share.
"""

import numpy as np

from replanner.hazards.known import Bounds, filled
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
    needs = _drying_hours(stretch, conditions, limits)
    amount = conditions.with_memory("precipitation_amount")
    trace = limits.figure("wet.trace_mm")
    rained, may_have = amount >= trace, ~(amount < trace)
    shape = np.broadcast_shapes(needs.shape, amount.shape)
    dried = np.cumsum(np.broadcast_to(1.0 / needs, shape), axis=-1)
    before = np.zeros(shape)
    before[..., 1:] = dried[..., :-1]
    later = slice(conditions.memory, None)
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


def _drying_hours(stretch: Stretch, conditions: Conditions, limits: Limits) -> Floats:
    """Return the hours a soaked road would take under each hour's air; missing data is slow."""
    sealed = stretch.surface is SurfaceClass.SEALED
    hours = limits.figure("wet.sealed_hours" if sealed else "wet.unsealed_hours")
    if stretch.road.trees:
        hours *= limits.figure("wet.shade_factor")
    air = filled(conditions.with_memory("air_temperature"), -np.inf)
    wind = filled(conditions.with_memory("wind_speed"), 0.0)
    factor = np.where(air < limits.figure("wet.cold_below"), limits.figure("wet.cold_factor"), 1.0)
    factor = factor * np.where(
        wind < limits.figure("wet.calm_below"), limits.figure("wet.calm_factor"), 1.0
    )
    factor = factor * np.where(
        wind >= limits.figure("wet.windy_from"), limits.figure("wet.windy_factor"), 1.0
    )
    if not stretch.road.trees:
        sun = filled(conditions.with_memory("surface_downwelling_shortwave_flux_in_air"), 0.0)
        factor = factor * np.where(
            sun >= limits.figure("wet.sun_from"), limits.figure("wet.sun_factor"), 1.0
        )
    return np.asarray(hours * factor)
