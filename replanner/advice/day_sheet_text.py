"""Day sheets as plain text, a few lines a day."""

from collections.abc import Iterable

from replanner.advice.day_sheet import DaySheet, Remark, RemarkKind
from replanner.advice.figures import Figures, scale_of
from replanner.advice.words import Words
from replanner.trip.model import Tour


def day_sheet_text(sheets: Iterable[DaySheet], tour: Tour, words: Words) -> str:
    """Return the sheets as text: hours, light, slack, fuel and remarks of each day.

    Parameters
    ----------
    sheets : iterable of DaySheet
    tour : Tour
        Gives names, zone and units.
    words : Words
    """
    blocks = ["\n".join(_block(sheet, tour, words)) for sheet in sheets]
    return "\n\n".join(blocks)


def _block(sheet: DaySheet, tour: Tour, words: Words) -> list[str]:
    show = Figures(words, tour.units, tour.zone, sheet.date)
    minutes = {
        "riding": sheet.riding_minutes,
        "connectors": sheet.connector_minutes,
        "halts": sheet.halt_minutes,
        "breaks": sheet.break_minutes,
        "waiting": sheet.waiting_minutes + sheet.slow_minutes,
    }
    lines = [
        words.say(
            "{date}: {start} to {end}, {distance}",
            date=show.date(sheet.date),
            start=tour.places[sheet.start].name,
            end=tour.places[sheet.end].name,
            distance=_distance(sheet.distance_km, show),
        ),
        words.say(
            "  leave {leave}, in {arrival}; light {light}; {slack}",
            leave=show.clock(sheet.departure),
            arrival=show.clock(sheet.arrival, up=True),
            light=_light(sheet, show),
            slack=_slack(sheet, show),
        )
        if sheet.arrival is not None
        else words.say(
            "  leave {leave}; cannot be ridden so; light {light}",
            leave=show.clock(sheet.departure),
            light=_light(sheet, show),
        ),
        words.say(
            "  riding {riding}, connectors {connectors}, halts {halts}, breaks {breaks}, "
            "boats and delays {waiting}",
            **{name: _hours(figure) for name, figure in minutes.items()},
        ),
    ]
    fuel = words.say(
        "  longest stretch without fuel {distance}",
        distance=_distance(sheet.longest_without_fuel_km, show),
    )
    if sheet.smallest_tank_km is not None:
        tank = _distance(sheet.smallest_tank_km, show)
        fuel += words.say(", smallest tank {tank}", tank=tank)
    lines.append(fuel)
    if sheet.optional_halt_minutes:
        minutes_told = _hours(sheet.optional_halt_minutes)
        lines.append(words.say("  not counted: optional halts {minutes}", minutes=minutes_told))
    return lines + [f"  ! {_remark(remark, show)}" for remark in sheet.remarks]


def _light(sheet: DaySheet, show: Figures) -> str:
    if sheet.light_from is None or sheet.light_until is None:
        return show.words.say(
            "none, dark all day" if sheet.never_light else "without dawn and dusk"
        )
    return f"{show.clock(sheet.light_from, up=True)}-{show.clock(sheet.light_until)}"


def _slack(sheet: DaySheet, show: Figures) -> str:
    if sheet.slack_minutes is None and sheet.never_light:
        return show.words.say("never light enough")
    if sheet.slack_minutes is None:
        return show.words.say("no limit")
    limit = show.words.as_given(sheet.slack_limit)
    if sheet.slack_minutes < 0:
        over = show.cost(sheet.slack_minutes)
        return show.words.say("{minutes} over {limit}", minutes=over, limit=limit)
    spare = show.minutes(sheet.slack_minutes)
    return show.words.say("{minutes} to {limit}", minutes=spare, limit=limit)


def _remark(remark: Remark, show: Figures) -> str:
    figure = remark.figure or 0.0
    in_minutes = remark.kind is not RemarkKind.TANK
    told = _hours(figure) if in_minutes else _distance(figure, show)
    at = show.clock(remark.at) if remark.at is not None else ""
    subject = show.words.as_given(remark.subject)
    sentences = {
        RemarkKind.CLOSED: "{subject}: closed when started at {at}",
        RemarkKind.TIDE: "{subject}: the tide forbids it when started at {at}",
        RemarkKind.NO_SAILING: "{subject}: no sailing on {weekday}",
        RemarkKind.LAST_BOAT: "{subject}: no boat any more when there at {at}",
        RemarkKind.NO_WORTH: "{subject}: no worth_minutes, so it is the first to be left out",
        RemarkKind.AVOIDED: "{subject}: better not when started at {at}",
        RemarkKind.DARK_START: "leaving {told} before civil dawn",
        RemarkKind.TOO_LATE: "in at {at}, {told} after {subject}",
        RemarkKind.LONG_DAY: "{told} on the road is a long day",
        RemarkKind.TANK: "{told} without fuel is more than four fifths of the smallest tank",
        RemarkKind.ESTIMATED: "{subject}: {told}, estimated; give a connector if you know it",
    }
    return show.words.say(
        sentences[remark.kind], subject=subject, at=at, told=told, weekday=show.full_weekday()
    )


def _hours(minutes: float) -> str:
    hours, rest = divmod(round(minutes), 60)
    return f"{hours}:{rest:02d} h"


def _distance(kilometres: float, show: Figures) -> str:
    scale = scale_of("km", show.units)
    return show.measure(kilometres * scale.factor, 0, scale)
