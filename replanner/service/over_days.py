"""What the days left cannot hold together: told while legs can still be swapped."""

from dataclasses import dataclass, replace
from datetime import date

from replanner.advice.briefing import Briefing, Decision, OverDays
from replanner.planning.build import BuiltDay
from replanner.planning.demand import Clash, Demand
from replanner.planning.sharing import clash_of
from replanner.trip.fuel import usable_km

Dated = tuple[date | None, Demand]


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighed:
    """The days weighed against each other, one of which at least has no plan to follow.

    Parameters
    ----------
    days : tuple of BuiltDay
        The day asked about first, with every leg that each of them could take.
    later_without : tuple of date
        The days after it that have no plan, with as few breaks as can be.
    no_go_roads : tuple of date
        Those of which every plan rides plain road that is no-go.
    sure : frozenset of date
        Those without a plan that have none even if the forecast stands till their own eve.
    """

    days: tuple[BuiltDay, ...]
    later_without: tuple[date, ...]
    no_go_roads: tuple[date, ...]
    sure: frozenset[date]


def with_over_days(briefing: Briefing, weighed: Weighed) -> Briefing:
    """Return the briefing of the first day with what the days weighed cannot hold together."""
    over = over_days(weighed, planned=briefing.decision is not Decision.NO_WAY)
    if over is None:
        return briefing
    legs = weighed.days[0].tour.legs
    names = {leg: legs[leg].name for _, demand in over.demands for leg in demand.legs}
    return replace(briefing, over_days=over, names=dict(briefing.names) | names)


def over_days(weighed: Weighed, *, planned: bool) -> OverDays | None:
    """Tell which days have no plan, and what cannot hold together over them.

    Parameters
    ----------
    planned : bool
        Whether the day asked about has a plan after all.

    Returns
    -------
    OverDays or None
        None: every day has a plan but the one asked about, if any, and that has none by its own
        demands, its own tank or its own roads.
    """
    today, later = weighed.days[0].day.date, weighed.later_without
    clash: Clash[Dated] = Clash((), fewest=False)
    if later or not planned:
        clash = clash_of(weighed.days)
    if all(day == today for day, _ in clash.demands):  # its own `blame` tells that
        if not later and not weighed.no_go_roads:
            return None
        clash = clash_of(weighed.days[1:]) if later else Clash((), fewest=False)
    without = sorted({*later, *weighed.no_go_roads, *(() if planned else (today,))})
    return OverDays(
        without_plan=tuple(without),
        doubtful=tuple(day for day in without if day not in weighed.sure),
        demands=clash.demands,
        fewest=clash.fewest,
        # With no tank to mind every day has a plan.
        fuel=bool(later) and not clash.demands and usable_km(weighed.days[0].tour) is not None,
        no_go_roads=weighed.no_go_roads,
    )
