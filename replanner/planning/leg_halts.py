"""A leg ridden with its halts and breaks, each halt made only while it is open."""

from dataclasses import dataclass, replace
from zoneinfo import ZoneInfo

import numpy as np

from replanner.planning.leg_rest import drawn_out, own_breaks, stops_of
from replanner.planning.rules import Rules
from replanner.trip.model import Leg
from replanner.trip.passage import Delay, Passage
from replanner.trip.spans import Flags
from replanner.trip.windows import Ban, BanKind, WindowVerdict, halts_open, judge_windows
from replanner.units import Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Halted:
    """A leg ridden with its halts and breaks, from each of T starts.

    Parameters
    ----------
    taken : ndarray of bool, shape (H, T)
        The halts made.
    longer : ndarray, shape (H, T)
        What they are drawn out by, to be a break. [min]
    stops, breaks : tuple of Delay
        Halts and breaks; the breaks of them.
    ridden : Passage
        With these, without windows and boats.
    verdict : WindowVerdict
        Its bans hold halts met closed as well.
    """

    taken: Flags
    longer: Floats
    stops: tuple[Delay, ...]
    breaks: tuple[Delay, ...]
    ridden: Passage
    verdict: WindowVerdict


def halted_on(
    leg: Leg,
    riding: Passage,
    taken: Flags,
    wished: Flags,
    zone: ZoneInfo,
    rules: Rules,
    begun: float,
    *,
    sits: bool,
) -> Halted | None:
    """Halt on a leg; None: halts are to be drawn out, and none can be.

    A halt that is only wished for is left out at starts that reach it closed; from those that
    reach another one closed the leg may not start.

    Parameters
    ----------
    riding : Passage
        The leg without any halt.
    taken : ndarray of bool, shape (H, T)
        Halts to be made.
    wished : ndarray of bool, shape (H, 1)
        Halts that may be left out.
    begun : float
        As `leg_rest.own_breaks` has it. [min]
    sits : bool
        Short halts are drawn out to a break.
    """
    quay_minutes = rules.slot_minutes + rules.wanted_margin_minutes
    while True:
        longer = drawn_out(leg, taken, rules) if sits else np.zeros(taken.shape)
        if sits and not longer.any():
            return None
        stops = stops_of(leg, riding, taken, longer)
        breaks = tuple(own_breaks(leg, riding, stops, rules, begun))
        ridden = replace(riding, delays=(*stops, *breaks))
        verdict = judge_windows(leg, ridden, zone, quay_minutes)
        shut = taken & ~halts_open(leg, verdict.passage, zone)
        if not (shut & wished).any():
            break
        taken = taken & ~(shut & wished)
    closed = [
        (Ban(BanKind.WINDOW, halt.hours.name), forbidden)
        for halt, forbidden in zip(leg.halts, shut, strict=True)
        if halt.hours is not None and forbidden.any()
    ]
    return Halted(
        taken=taken,
        longer=longer,
        stops=(*stops, *breaks),
        breaks=breaks,
        ridden=ridden,
        verdict=replace(verdict, bans=(*verdict.bans, *closed)),
    )
