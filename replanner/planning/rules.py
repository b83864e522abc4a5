"""The prices and margins of a day: `[planning]` in `config/settings.toml`, all assumptions.

Everything is told in minutes of plain riding, so that a rider can say "too dear" of any of it.
"""

from dataclasses import dataclass

from replanner.trip.timing import BREAK_AFTER_MINUTES, BREAK_MINUTES


@dataclass(frozen=True, slots=True, kw_only=True)
class Rules:
    """How a day is priced and what it must keep.

    Parameters
    ----------
    slot_minutes : int
    connector_cost : float
        Price of a minute of connector. [min/min]
    riding_cost : float
        Price of a minute on a leg: 0, since a leg's worth is told net of riding it. [min/min]
    waiting_cost : float
        Price of a minute of waiting on the road. [min/min]
    level_prices : tuple of float
        Price of a minute ridden at level 1, 2, 3 and just under 4, linear between. [min/min]
    wished_before_dusk_minutes : float
        Wished arrival: civil dusk less this. [min]
    late_cost : float
        Price of a minute after the wished arrival. [min/min]
    dark_cost : float
        Price of a minute after civil dusk, on top. [min/min]
    latest_after_dusk_minutes : float
        The hard limit of arrival where the day sets none. [min]
    order_cost : float
        Price of each pair of legs the other way round than the rider's own order: a change must
        be worth more than this. [min]
    left_out_cost : float
        Price of each leg of the rider's own order that is left out, beside its worth: leaving it
        out must be worth more than this, so that ties go to the rider's own order. A
        stand-in in its place saves it, less `order_cost`. Closed legs and those on another day
        cost nothing. [min]
    new_leg_bonus : float
        Added to the worth of a leg the catalogue has as never ridden or missed. [min]
    no_go_share : float
        Share of members in which a start may be no-go and still be used. [1]
    riding_quantile : float
        Of the members' riding times the plan reckons with this one. [1]
    other_day_cost : float
        Price of each leg ridden on another day than the rider put it: a move must be worth more
        than this. [min]
    departure_cost : float
        Price of leaving at another hour than the rider's own: a change must be worth more. [min]
    wanted_margin_minutes : float
        How long before a tide, an opening or a boat is missed, or a leg is no-go, the rider wants
        to be there.
        Common practice, no source. [min]
    margin_cost : float
        Price of each minute of it that is lacking. [min/min]
    no_go_road_cost : float
        Price of a connector that is no-go, beside its minutes: more than any leg is worth, so that
        it is ridden only where every plan of the day has one, and told. It is not forbidden: nobody
        knows where it runs, nor whether another road leads round. [min]
    worth_waiting_minutes : float
        Leaving the decision to the morning has to gain more than this to be told. [min]
    break_after_minutes, break_minutes : float
        After so much riding at the latest a break of at least so long: Highway Code rule 91 has
        at least 15 minutes every two hours (OGL). [min]
    """

    slot_minutes: int = 5
    connector_cost: float = 1.0
    riding_cost: float = 0.0
    waiting_cost: float = 0.1
    level_prices: tuple[float, float, float, float] = (0.0, 0.5, 3.0, 8.0)
    wished_before_dusk_minutes: float = 60.0
    late_cost: float = 3.0
    dark_cost: float = 5.0
    latest_after_dusk_minutes: float = 120.0
    order_cost: float = 4.0
    left_out_cost: float = 10.0
    new_leg_bonus: float = 15.0
    no_go_share: float = 0.1
    riding_quantile: float = 0.8
    other_day_cost: float = 10.0
    departure_cost: float = 4.0
    wanted_margin_minutes: float = 20.0
    margin_cost: float = 1.0
    no_go_road_cost: float = 240.0
    worth_waiting_minutes: float = 5.0
    break_after_minutes: float = BREAK_AFTER_MINUTES
    break_minutes: float = BREAK_MINUTES
