"""From the sound shape of a tour file to the tour the core works on."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from replanner.clock import local_instant
from replanner.files import tour_shape as shape
from replanner.geodesy import Point
from replanner.trip import model
from replanner.trip.timing import Speeds, estimate_leg_minutes

EXPOSURES = {
    "sheltered": model.Exposure.SHELTERED,
    "open": model.Exposure.OPEN,
    "exposed": model.Exposure.EXPOSED,
}
WAYS = {"forward": model.Way.FORWARD, "reverse": model.Way.REVERSE}
UNTIMED = {model.LegKind.CROSSING, model.LegKind.STOP}


def build_tour(document: shape.TourShape, speeds: Speeds) -> model.Tour:
    """Turn a sound shape into a tour; ids are taken as written, `trip.checks` looks them up.

    Parameters
    ----------
    document : TourShape
    speeds : Speeds
        For legs and connectors that give kilometres but no minutes.
    """
    zone = ZoneInfo(document.zone)
    return model.Tour(
        name=document.name,
        zone=zone,
        units=document.units,
        invented=document.invented,
        places={
            key: model.Place(
                id=key,
                name=place.name,
                point=Point(place.latitude, place.longitude, place.elevation_m),
            )
            for key, place in document.places.items()
        },
        legs=_in_sequence(
            {key: _leg(key, leg, zone, speeds) for key, leg in document.legs.items()}
        ),
        connectors=tuple(_connector(item, speeds) for item in document.connectors),
        bases=tuple(
            model.Base(
                place=base.place,
                nights=tuple(base.nights),
                check_in_from=base.check_in_from,
                reception_until=base.reception_until,
            )
            for base in document.bases
        ),
        riders=tuple(_rider(rider) for rider in document.riders),
        days=tuple(
            model.Day(
                date=key,
                start=day.start,
                end=day.end,
                own_order=tuple(day.own_order),
                optional=tuple(day.optional),
                own_departure=day.own_departure,
                earliest_departure=day.earliest_departure,
                latest_departure=day.latest_departure,
                latest_arrival=day.latest_arrival,
            )
            for key, day in sorted(document.days.items())
        ),
    )


def _in_sequence(legs: dict[str, model.Leg]) -> dict[str, model.Leg]:
    """Let every leg that another comes after have that other in its `before`."""
    told = dict(legs)
    for leg in legs.values():
        for first in leg.after:
            if first in told:
                before = dict.fromkeys((*told[first].before, leg.id))
                told[first] = replace(told[first], before=tuple(before))
    return told


def _leg(key: str, leg: shape.LegShape, zone: ZoneInfo, speeds: Speeds) -> model.Leg:
    crossing = leg.kind is model.LegKind.CROSSING
    road = _road(leg, model.Road(surface="water") if crossing else model.Road())
    sections = tuple(
        model.Section(
            name=section.name,
            from_fraction=section.from_fraction,
            to_fraction=section.to_fraction,
            road=_road(section, road),
            place=section.place,
        )
        for section in leg.sections
    )
    minutes = leg.riding_minutes
    if minutes is None:
        timed = leg.kind not in UNTIMED
        minutes = (
            estimate_leg_minutes(leg.distance_km, leg.kind, road, sections, speeds)
            if timed
            else float("nan")  # refused by trip.checks
        )
    return model.Leg(
        id=key,
        name=leg.name,
        kind=leg.kind,
        start=leg.start,
        end=leg.end,
        riding_minutes=minutes,
        distance_km=leg.distance_km,
        worth_minutes=leg.worth_minutes,
        must=leg.must,
        one_way=leg.one_way,
        road=road,
        sections=sections,
        via=tuple(leg.via),
        track=tuple(Point(*point) for point in leg.track),
        stand_in=None
        if leg.stand_in is None
        else model.StandIn(
            leg=leg.stand_in.leg,
            joins=tuple(
                model.Join(
                    place=join.place,
                    riding_minutes=join.riding_minutes,
                    distance_km=join.distance_km,
                )
                for join in leg.stand_in.joins
            ),
        ),
        before=tuple(leg.before),
        after=tuple(leg.after),
        windows=(
            *(_window(window) for window in leg.windows),
            *(hours for halt in leg.halts if not halt.optional and (hours := _hours(halt))),
        ),
        tides=None if leg.tides is None else _tides(leg.tides, zone),
        ferry=None if leg.ferry is None else _ferry(leg.ferry),
        halts=tuple(_halt(halt) for halt in leg.halts),
        animals=leg.animals,
        phone=leg.phone,
        last_light=leg.last_light,
        remark=leg.remark,
    )


def _road(given: shape.RoadShape, below: model.Road) -> model.Road:
    """Lay the attributes given over the road below; what is not given stays as it is."""
    chippings = given.chippings
    return replace(
        below,
        surface=_or(given.surface, below.surface),
        width_m=_or(given.width_m, below.width_m),
        steepest_grade_percent=_or(given.steepest_grade_percent, below.steepest_grade_percent),
        exposure=below.exposure if given.exposure is None else EXPOSURES[given.exposure],
        drop=_or(given.drop, below.drop),
        trees=_or(given.trees, below.trees),
        elevation_m=_or(given.elevation_m, below.elevation_m),
        headings_deg=below.headings_deg
        if given.headings_deg is None
        else tuple(heading % 360.0 for heading in given.headings_deg),
        chippings=below.chippings
        if chippings is None
        else model.LooseChippings(laid=chippings.laid, assumed_until=chippings.assumed_until),
    )


def _or(given: shape.T | None, below: shape.T) -> shape.T:
    return below if given is None else given


def _window(window: shape.WindowShape) -> model.WeeklyWindow:
    return model.WeeklyWindow(
        name=window.name,
        effect=window.effect,
        weekdays=window.weekdays,
        opens=window.opens,
        closes=window.closes,
        fractions=tuple(window.fractions),
        way=None if window.way is None else WAYS[window.way],
        added_minutes=window.added_minutes,
    )


def _tides(tides: shape.TidesShape, zone: ZoneInfo) -> model.TideTable:
    return model.TideTable(
        fractions=tuple(tides.fractions),
        open_utc=tuple(_span(span, zone) for span in tides.open),
        margin_minutes=tides.margin_minutes,
    )


def _span(span: Sequence[datetime], zone: ZoneInfo) -> tuple[datetime, datetime]:
    opens, closes = (
        moment.astimezone(UTC)
        if moment.tzinfo
        else local_instant(moment.date(), moment.time(), zone)
        for moment in span
    )
    return opens, closes


def _ferry(ferry: shape.FerryShape) -> model.Ferry:
    return model.Ferry(
        sailings=tuple(
            model.Sailing(
                way=WAYS[sailing.way],
                weekdays=sailing.weekdays,
                departures=tuple(sorted(sailing.departures)),
            )
            for sailing in ferry.sailings
        ),
        boarding_minutes=ferry.boarding_minutes,
        gust_limit=ferry.gust_limit_ms,
    )


def _halt(halt: shape.HaltShape) -> model.Halt:
    arc = halt.light_from_deg
    return model.Halt(
        place=halt.place,
        fraction=halt.fraction,
        minutes=halt.minutes,
        kind=halt.kind,
        optional=halt.optional,
        worth_minutes=halt.worth_minutes,
        light_from_deg=None if arc is None else (arc[0], arc[1]),
        gust_limit=halt.gust_limit_ms,
        hours=_hours(halt) if halt.optional else None,
    )


def _hours(halt: shape.HaltShape) -> model.WeeklyWindow | None:
    hours = halt.hours
    if hours is None:
        return None
    return model.WeeklyWindow(
        name=f"{halt.kind.value} hours",
        effect=model.WindowEffect.OPEN,
        weekdays=hours.weekdays,
        opens=hours.opens,
        closes=hours.closes,
        fractions=(halt.fraction,),
    )


def _connector(item: shape.ConnectorShape, speeds: Speeds) -> model.Connector:
    minutes, estimated = item.riding_minutes, False
    if item.road and minutes is None and item.distance_km is not None:
        minutes, estimated = item.distance_km / speeds.connector * 60.0, True
    return model.Connector(
        between=(item.between[0], item.between[1]),
        riding_minutes=minutes if item.road else None,
        distance_km=item.distance_km,
        estimated=estimated,
    )


def _rider(rider: shape.RiderShape) -> model.Rider:
    return model.Rider(
        id=rider.id,
        leader=rider.leader,
        experience=rider.experience,
        machine_mass_kg=rider.machine_mass_kg,
        tall_load=rider.tall_load,
        tyres=rider.tyres,
        tyre_wear=rider.tyre_wear,
        pillion=rider.pillion,
        full_luggage=rider.full_luggage,
        tank_range_km=rider.tank_range_km,
        own_limits={
            name: (own.caution, own.avoid, own.no_go) for name, own in rider.own_limits.items()
        },
    )
