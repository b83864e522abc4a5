"""The riders taken together: the one with the least to spare sets each shift."""

from collections.abc import Iterable, Mapping

from replanner.errors import Fault, InputError
from replanner.hazards.limits import Limit, Limits, Thresholds
from replanner.hazards.model import Kind, Party
from replanner.trip.model import Experience, Rider, Tyres, TyreWear

# Limits that are the same figure under stricter circumstances: a rider's own limit holds there too.
_VARIANTS: Mapping[str, tuple[str, ...]] = {
    "rain": ("rain_exposed", "rain_track"),
    "visibility": ("visibility_exposed",),
    "darkness": ("darkness_exposed",),
    "frost": ("frost_wet",),
    "low_sun": ("low_sun_climbing",),
}


def party_of(riders: Iterable[Rider], limits: Limits, *, stricter: int = 0) -> Party:
    """Take the riders together; nothing a rider is or sets ever loosens a limit.

    Shifts of one rider add up, to the cap of `[figures.party]`; between riders the strictest
    counts. Levels are added by one step however many reasons there are ("one class stricter").

    Parameters
    ----------
    stricter : int
        Classes by which every hazard counts as worse today, on top of all else.

    Raises
    ------
    InputError
        If a rider's own limit names no limit of `config/limits.toml`.
    ValueError
        If there is no rider, or `stricter` is negative: nothing loosens a limit.
    """
    group = tuple(riders)
    if stricter < 0:
        raise ValueError(f"stricter must not be negative, got {stricter}")
    if not group:
        raise ValueError("a party needs at least one rider")
    return Party(
        wind_shift=min(_wind_shift(rider, limits) for rider in group),
        added_levels=_added_levels(group, limits),
        own_limits=_own_limits(group, limits),
        pillion=any(rider.pillion for rider in group),
        newer_rider=any(rider.experience is Experience.NEWER for rider in group),
        alone=len(group) == 1,
        stricter=stricter * limits.figure("party.level_step"),
    )


def looser_limits(riders: Iterable[Rider], limits: Limits) -> tuple[str, ...]:
    """Return a line for each own limit of a rider that is looser than the default and so is idle.

    Nothing a rider sets loosens a limit; he has to know that it does nothing.
    """
    steps = ("caution", "avoid", "no_go")
    return tuple(
        f"riders.{rider.id}.own_limits.{name}.{step}: {mine:g} {limits[name].unit} is looser than "
        f"{default:g} and changes nothing -- own limits only tighten"
        for rider in riders
        for name, own in rider.own_limits.items()
        if name in limits.limits
        for step, mine in zip(steps, own, strict=True)
        if mine is not None and (default := getattr(limits[name], step)) is not None
        if (mine > default if limits[name].rising else mine < default)
    )


def _wind_shift(rider: Rider, limits: Limits) -> float:
    """Return what is added to a rider's wind thresholds, in m/s, at most 0."""
    light = rider.machine_mass_kg < limits.figure("party.light_below_kg")
    shifts = {
        "party.wind_newer": rider.experience is Experience.NEWER,
        "party.wind_light_or_tall": light or rider.tall_load,
        "party.wind_pillion": rider.pillion,
        "party.wind_luggage": rider.full_luggage,
    }
    total = sum(limits.figure(name) for name, holds in shifts.items() if holds)
    return min(0.0, max(total, limits.figure("party.wind_cap")))


def _added_levels(group: tuple[Rider, ...], limits: Limits) -> dict[str, float]:
    road_tyres = any(rider.tyres is Tyres.ROAD for rider in group)
    pillion = any(rider.pillion for rider in group)
    newer = any(rider.experience is Experience.NEWER for rider in group)
    slippery = any(rider.tyre_wear is not TyreWear.SOUND for rider in group)
    stricter = {
        "gravel": pillion or road_tyres,
        "chippings": road_tyres,  # a pillion counts in the hazard itself
        "wet_track": newer or road_tyres,
        Kind.WET.value: slippery,
    }
    step = limits.figure("party.level_step")
    return {name: step for name, holds in stricter.items() if holds}


def _own_limits(group: tuple[Rider, ...], limits: Limits) -> dict[str, Thresholds]:
    faults = [
        Fault(f"riders.{rider.id}.limits.{name}", f"there is no limit {name!r}",
              "use a name of config/limits.toml")
        for rider in group
        for name in rider.own_limits
        if name not in limits.limits
    ]  # fmt: skip
    if faults:
        raise InputError.of(tuple(faults))
    found: dict[str, Thresholds] = {}
    for rider in group:
        for name, own in rider.own_limits.items():
            for each in (name, *_VARIANTS.get(name, ())):
                found[each] = _strictest(limits[each], found.get(each), own)
    return found


def _strictest(limit: Limit, one: Thresholds | None, other: Thresholds) -> Thresholds:
    if one is None:
        return other
    return tuple(  # type: ignore[return-value]
        mine if yours is None else yours if mine is None
        else min(mine, yours) if limit.rising else max(mine, yours)
        for mine, yours in zip(one, other, strict=True)
    )  # fmt: skip
