"""Lines on days weighed together that cannot all have a plan: the next one, or later ones.

Each has about 60 characters; empty: nothing to say. None is told as certain: days ahead are as the
forecast stands.
"""

from collections.abc import Iterable
from datetime import date

from replanner.advice.briefing import OverDays
from replanner.advice.fitting import LINE, Lines, packed, squeezed
from replanner.advice.hurdles import demand_words
from replanner.advice.telling import Telling
from replanner.planning.demand import Demand, DemandKind

_BRIEFLY = "{days}: no plan by this forecast"
_MOST_DAYS = 2  # told one by one


def without_plan(telling: Telling) -> str:
    """Return for the message which later days have no plan, or that none can help."""
    over = telling.briefing.over_days
    if over is None:
        return ""
    later = _later(telling, over)
    if not later:
        return no_later_day(telling) or _cannot_help(telling, over)
    days = (_dates(telling, later), _weekdays(telling, later), _first_of(telling, later))
    lines = [_no_plan(telling, told, len(later), ask=True) for told in days]
    return next((line for line in lines if len(line) <= LINE), lines[-1])


def without_plan_briefly(telling: Telling) -> str:
    """Return the same in as few words as say it of which forecast."""
    over, say = telling.briefing.over_days, telling.words.say
    later = () if over is None else _later(telling, over)
    if not later:
        return without_plan(telling)
    days = _weekdays(telling, later) if len(later) <= _MOST_DAYS else _first_of(telling, later)
    old = _is_old(telling)
    return say("{days}: no plan by an old forecast" if old else _BRIEFLY, days=days)


def over_days_lines(telling: Telling) -> Lines:
    """Return for the reasons which later days have no plan, and what cannot hold together."""
    over = telling.briefing.over_days
    if over is None:
        return ()
    later, nothing_else = _later(telling, over), no_later_day(telling)
    if nothing_else:
        return _wrapped(nothing_else)
    told = _no_plan(telling, _dates(telling, later), len(later), ask=False) if later else ""
    return (
        *_wrapped(told),
        *_wrapped(_clash(telling, over)),
        *_wrapped(_no_go_roads(telling, over)),
    )


def aloud_without_plan(telling: Telling) -> str:
    """Return the same to be read aloud, without any demands."""
    over = telling.briefing.over_days
    if over is None:
        return ""
    later = _later(telling, over)
    told = no_later_day(telling)
    if later:
        told = _no_plan(telling, _dates(telling, later), len(later), ask=False)
    return f"{told}." if told else ""


def no_later_day(telling: Telling) -> str:
    """Return that no later day can take what leaves this one without a plan.

    Empty where that is not all: what clashes over the days is not what clashes on this one.
    """
    briefing, over = telling.briefing, telling.briefing.over_days
    if over is None or not over.demands or {*over.without_plan} != {briefing.date}:
        return ""
    here = all(day in (None, briefing.date) for day, _ in over.demands)
    demands = [demand for _, demand in over.demands]
    if not here or not _same(demands, briefing.blame):
        return ""
    say, stands = telling.words.say, _as_it_stands(telling)
    if len(demands) > 1 or demands[0].kind is not DemandKind.RIDE:
        return say("No later day can take one of them {stands}", stands=stands)
    ride = demands[0]
    return squeezed(
        lambda width: say(
            "No later day can take {leg} {stands}",
            leg=f" {say('or')} ".join(telling.leg(leg, width) for leg in ride.legs),
            stands=stands,
        )
    )


def _later(telling: Telling, over: OverDays) -> tuple[date, ...]:
    """Return the later days without a plan if the forecast stands."""
    return tuple(day for day in over.without_plan if day != telling.briefing.date)


def _same(one: Iterable[Demand], other: Iterable[Demand]) -> bool:
    return {(demand.kind, demand.legs) for demand in one} == {
        (demand.kind, demand.legs) for demand in other
    }


def _cannot_help(telling: Telling, over: OverDays) -> str:
    """Return that no later day can take a leg of this one; empty: one may, or nobody asked."""
    if telling.briefing.date not in over.without_plan or not over.demands:
        return ""
    stands = _as_it_stands(telling)
    return telling.words.say("Later days cannot help {stands}: ask why", stands=stands)


def _no_plan(telling: Telling, days: str, count: int, *, ask: bool) -> str:
    one, many = (
        ("{days} has no plan {stands}: ask why", "{days} have no plan {stands}: ask why")
        if ask
        else ("{days} has no plan {stands}", "{days} have no plan {stands}")
    )
    return telling.words.count(one, many, count, days=days, stands=_as_it_stands(telling))


def _as_it_stands(telling: Telling) -> str:
    """Return by which forecast: the present one, or an old one."""
    say = telling.words.say
    return say("by an old forecast") if _is_old(telling) else say("as the forecast stands")


def _is_old(telling: Telling) -> bool:
    return telling.briefing.plan_stale or telling.briefing.origin.stale


def _dates(telling: Telling, days: tuple[date, ...]) -> str:
    return telling.words.listed(tuple(map(telling.figures.date, days)))


def _weekdays(telling: Telling, days: tuple[date, ...]) -> str:
    return telling.words.listed(tuple(map(telling.figures.weekday, days)))


def _first_of(telling: Telling, days: tuple[date, ...]) -> str:
    first, more = telling.figures.weekday(days[0]), len(days) - 1
    if not more:
        return first
    return telling.words.count(
        "{first} and {n} more", "{first} and {n} more", more, first=first, n=str(more)
    )


def _clash(telling: Telling, over: OverDays) -> str:
    say = telling.words.say
    if over.fuel:
        return say("The smallest tank is why: it would take fuel on the way")
    told = tuple(_on_its_day(telling, day, demand) for day, demand in over.demands)
    if not told:
        return ""
    if len(told) == 1:
        return say("No plan keeps {demand}", demand=told[0])
    return say("No plan of these days keeps all of: {demands}", demands="; ".join(told))


def _no_go_roads(telling: Telling, over: OverDays) -> str:
    if not over.no_go_roads:
        return ""
    days = _dates(telling, over.no_go_roads)
    return telling.words.say("Every plan rides no-go plain road on {days}", days=days)


def _on_its_day(telling: Telling, day: date | None, demand: Demand) -> str:
    told = demand_words(telling, demand)
    if day is None or demand.by is not None:  # an hour of another day is told with its weekday
        return told
    return telling.words.say("{demand} on {day}", demand=told, day=telling.figures.date(day))


def _wrapped(text: str) -> Lines:
    return packed(text.split(" "), LINE, " ") if text else ()
