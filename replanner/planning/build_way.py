"""One way of riding a leg on the day's slots: minutes, worth, and what forbids each start."""

from dataclasses import dataclass

import numpy as np

from replanner.hazards.assess import LegAssessment
from replanner.hazards.model import Floats
from replanner.planning.day_clock import DayClock
from replanner.planning.leg_halts import halted_on
from replanner.planning.leg_rest import LegRest, leg_rest
from replanner.planning.prices import (
    cautious_minutes,
    halt_gain,
    hazard_price,
    minutes_before,
    no_go_share,
    too_often,
)
from replanner.planning.problem import Minutes, Slots
from replanner.planning.rules import Rules
from replanner.trip.model import (
    Exposure,
    HaltKind,
    Leg,
    LegKind,
    PlaceId,
    Road,
    SurfaceClass,
    Tour,
    Way,
)
from replanner.trip.passage import Delay, Passage, in_way, instant64
from replanner.trip.spans import Flags
from replanner.trip.stretches import pieces
from replanner.trip.windows import Ban, BanKind, WindowVerdict
from replanner.weather.daylight import Daylight


@dataclass(frozen=True, slots=True, kw_only=True)
class BuiltWay:
    """A way of riding a leg, with all that is told of it; T starts, H halts of the leg.

    Parameters
    ----------
    halts : ndarray of bool, shape (H, T)
        The halts taken when started then.
    passage : Passage
        At the cautious riding time, with halts, slow windows and the wait for a boat.
    cautious : ndarray, shape (K, T)
        The riding minutes reckoned with, nothing added. [min]
    bans : tuple of (Ban, ndarray of bool shape (T,))
        What forbids starts, the weightiest first.
    certain : ndarray, shape (T,)
        What starting then is worth whatever the weather, bans not asked: `worth` is this less the
        hazards and with what the halts gain, the mean over members of both. [min]
    rest : LegRest
        How long it is ridden without a break.
    breaks : tuple of Delay
        The breaks of its own that a long leg has: where, and from which starts.
    pumps : tuple of float
        Where the tank is filled, fractions of the way ridden in order.
    """

    way: Way
    assessed: LegAssessment
    halts: Flags
    passage: Passage
    verdict: WindowVerdict
    cautious: Floats
    bans: tuple[tuple[Ban, Flags], ...]
    ride_slots: Slots
    certain: Minutes
    worth: Minutes
    rest: LegRest
    breaks: tuple[Delay, ...] = ()
    pumps: tuple[float, ...] = ()

    @property
    def minutes(self) -> Floats:
        """Minutes from each start to the end of the leg, everything counted; shape (T,)."""
        return self.passage.minutes

    @property
    def free(self) -> Flags:
        """The slots in which it may start; shape (T,)."""
        free = np.ones(self.worth.shape, dtype=np.bool_)
        for _, forbidden in self.bans:
            free &= ~forbidden
        return free

    def ban_at(self, slot: int) -> Ban | None:
        """Return the weightiest reason why it may not start then; None: it may."""
        return next((ban for ban, forbidden in self.bans if forbidden[slot]), None)


@dataclass(frozen=True, slots=True)
class Light:
    """The light legs have to keep to: the later dawn and the earlier dusk of the day's ends."""

    start: Daylight
    end: Daylight


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """What all legs of a day share.

    `midway` are the minutes ridden without a break by those who begin the day on a leg, which
    starts at one of `no_wait` then.
    """

    tour: Tour
    clock: DayClock
    light: Light
    rules: Rules
    no_wait: frozenset[PlaceId] = frozenset()
    midway: float = 0.0

    def begun(self, leg: Leg) -> float:
        """Return the minutes ridden without a break when a leg is begun that was begun before."""
        return self.midway if leg.start in self.no_wait else 0.0


def build_way(
    frame: Frame,
    leg: Leg,
    assessed: LegAssessment,
    riding: Passage,
    *,
    leg_worth: float,
    optional_halts: bool,
    fuel: frozenset[int] = frozenset(),
    sits: bool = False,
) -> BuiltWay | None:
    """Build one way of riding a leg, with or without its optional halts.

    Halts that may be left out make ways of their own, so that the search weighs them against the
    hours they take. They are taken at starts where their worth exceeds their minutes.

    Parameters
    ----------
    riding : Passage
        The leg without halts (`ridden_alone`).
    fuel : frozenset of int
        The fuel halts that may be left out and are taken, whatever they are worth: which are
        needed only the whole day can tell.
    sits : bool
        Halts shorter than a break, photos and drones but for, are drawn out to one.

    Returns
    -------
    BuiltWay or None
        None: with optional halts asked for, none is worth its minutes at any start; or no halt
        can be drawn out.
    """
    gains = _halt_gains(leg, assessed)
    optional = np.array([halt.optional for halt in leg.halts], dtype=np.bool_)[:, None]
    filling = np.array([halt.kind is HaltKind.FUEL for halt in leg.halts], dtype=np.bool_)[:, None]
    wished = optional & ~filling
    taken = ~optional | (wished & optional_halts & (gains > 0))
    taken[sorted(fuel)] = True
    if optional_halts and not (taken & wished).any():
        return None
    rules, clock, begun = frame.rules, frame.clock, frame.begun(leg)
    halted = halted_on(leg, riding, taken, wished, frame.tour.zone, rules, begun, sits=sits)
    if halted is None:
        return None
    taken, stops, ridden, verdict = halted.taken, halted.stops, halted.ridden, halted.verdict
    any_taken = (taken & wished).any(axis=0)
    if optional_halts and not any_taken.any():
        return None
    bans = _bans(frame, leg, assessed, verdict)
    lacking = rules.wanted_margin_minutes - margin_minutes(leg, verdict, clock.slot_minutes)
    certain = leg_worth - rules.riding_cost * ridden.piece_minutes.sum(axis=0)
    certain -= rules.margin_cost * np.maximum(lacking, 0.0)
    certain -= rules.waiting_cost * halted.longer.sum(axis=0)
    worth = certain - hazard_price(assessed, verdict.avoid, rules)
    worth += np.where(taken, gains, 0.0).sum(axis=0)
    for _, forbidden in bans:
        worth[forbidden] = -np.inf
    if optional_halts:
        worth[~any_taken] = -np.inf
    slots = np.ceil(np.round(verdict.passage.minutes / clock.slot_minutes, 6))
    return BuiltWay(
        way=assessed.way,
        assessed=assessed,
        halts=taken,
        passage=verdict.passage,
        verdict=verdict,
        cautious=ridden.piece_minutes,
        bans=bans,
        ride_slots=slots.astype(np.int64),
        certain=certain,
        worth=worth,
        rest=leg_rest(leg, verdict.passage, stops, rules, begun),
        breaks=halted.breaks,
        pumps=tuple(
            sorted(
                in_way(halt.fraction, assessed.way)
                for number, halt in enumerate(leg.halts)
                if halt.kind is HaltKind.FUEL and (not halt.optional or number in fuel)
            )
        ),
    )


def margin_minutes(leg: Leg, verdict: WindowVerdict, slot_minutes: int) -> Floats:
    """Return how long each start could still be put off before a window, tide or boat is missed.

    Returns
    -------
    ndarray, shape (S,)
        Whole slots; inf where nothing of that kind comes later. [min]
    """
    margin = np.full(verdict.passage.starts.shape, np.inf)
    for ban, forbidden in verdict.bans:
        if ban.kind is not BanKind.SAILING:
            margin = np.minimum(margin, minutes_before(forbidden, slot_minutes))
    if leg.ferry is not None and not leg.ferry.in_queue:
        sails = ~np.isnat(verdict.departure)
        at_quay = verdict.departure[sails] - verdict.passage.starts[sails]
        margin[sails] = at_quay / np.timedelta64(60, "s") - leg.ferry.boarding_minutes
    return margin


def last_light(leg: Leg, light: Light) -> np.datetime64 | None:
    """Return the latest instant a leg may be over; None: light does not bind it."""
    if leg.last_light == "sunset-30":
        sunsets = [one.sunset for one in (light.start, light.end) if one.sunset is not None]
        return instant64(min(sunsets)) - np.timedelta64(30 * 60, "s") if sunsets else None
    if not needs_light(leg):
        return None
    dusks = [one.civil_dusk for one in (light.start, light.end) if one.civil_dusk is not None]
    return instant64(min(dusks)) if dusks else None


def needs_light(leg: Leg) -> bool:
    """Return whether a leg is never ridden in the dark: exposed, a track, or said so."""
    return leg.last_light == "sunset-30" or any(
        road.exposure is Exposure.EXPOSED or road.surface_class is SurfaceClass.TRACK
        for road in roads(leg)
    )


def roads(leg: Leg) -> tuple[Road, ...]:
    """Return the leg's own road and those of its sections."""
    return (leg.road, *(section.road for section in leg.sections))


def ridden_ways(leg: Leg) -> tuple[Way, ...]:
    """Return the ways that differ: a stop and a spur, there and back, have only one."""
    return (Way.FORWARD,) if leg.kind in (LegKind.STOP, LegKind.SPUR) else leg.ways


def ridden_alone(frame: Frame, leg: Leg, assessed: LegAssessment) -> Passage:
    """Return the leg ridden at the cautious riding time, without halts."""
    cut = pieces(frame.tour, leg, assessed.way)
    return Passage(
        way=assessed.way,
        starts=assessed.starts,
        fractions=np.array([0.0, *(piece.to_fraction for piece in cut)]),
        piece_minutes=cautious_minutes(assessed, frame.rules),
    )


def _halt_gains(leg: Leg, assessed: LegAssessment) -> Floats:
    """Return what each halt gains at each start; the minutes of one that is fixed are no price."""
    gains = [
        halt_gain(assessed, h, halt.worth_minutes, halt.minutes if halt.optional else 0.0)
        for h, halt in enumerate(leg.halts)
    ]
    return np.array(gains, dtype=np.float64).reshape(len(gains), assessed.starts.size)


def _bans(
    frame: Frame, leg: Leg, assessed: LegAssessment, verdict: WindowVerdict
) -> tuple[tuple[Ban, Flags], ...]:
    """Return what forbids starts: no-go, windows, light, and the end of the day, in that order."""
    light, clock, rules = frame.light, frame.clock, frame.rules
    no_go = too_often(no_go_share(assessed), rules)
    ends = verdict.passage.ends
    dark = np.zeros(no_go.shape, dtype=np.bool_)
    over_by = last_light(leg, light)
    if over_by is not None:
        dark |= ends > over_by
    if needs_light(leg):
        for one in (light.start, light.end):
            if one.never_light:
                dark[:] = True
            elif one.civil_dawn is not None:
                dark |= verdict.passage.starts < instant64(one.civil_dawn)
    found = [
        (Ban(BanKind.HAZARD, leg.name), no_go),
        *verdict.bans,
        (Ban(BanKind.LIGHT, leg.last_light), dark),
        (Ban(BanKind.ARRIVAL, clock.by_cause), np.asarray(ends > instant64(clock.by))),
    ]
    return tuple((ban, forbidden) for ban, forbidden in found if forbidden.any())
