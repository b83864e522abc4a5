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
    """The days weighed against each other, by the forecast itself where it left one without a plan.

    Parameters
    ----------
    days : tuple of BuiltDay
        The day asked about first, with every leg that each of them could take.
    without_plan : tuple of date
        Those that have no plan.
    no_go_roads : tuple of date
        The later days of which every plan rides plain road that is no-go.
    """

    days: tuple[BuiltDay, ...]
    without_plan: tuple[date, ...]
    no_go_roads: tuple[date, ...]


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
        demands, its own tank or its own roads, or another day may yet help.
    """
    today, roads = weighed.days[0].day.date, weighed.no_go_roads
    later = tuple(day for day in weighed.without_plan if day != today)
    here = () if planned or today not in weighed.without_plan else (today,)
    clash: Clash[Dated] = Clash((), fewest=False)
    if later or here:
        clash = clash_of(weighed.days)
    if all(day == today for day, _ in clash.demands):  # its own `blame` tells that
        if not later and not roads:
            return None
        clash = clash_of(weighed.days[1:]) if later else Clash((), fewest=False)
    return OverDays(
        without_plan=tuple(sorted({*here, *later, *roads})),
        demands=clash.demands,
        fewest=clash.fewest,
        # With no tank to mind every day has a plan.
        fuel=bool(later) and not clash.demands and usable_km(weighed.days[0].tour) is not None,
        no_go_roads=roads,
    )
