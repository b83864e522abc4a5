"""Day sheets as plain data for programs: times in the tour's zone, missing things null."""

from collections.abc import Iterable
from dataclasses import asdict
from datetime import date, datetime
from zoneinfo import ZoneInfo

from replanner.advice.day_sheet import DaySheet


def day_sheets_json(sheets: Iterable[DaySheet], zone: ZoneInfo) -> list[object]:
    """Return sheets as `json.dumps` takes them; keys as the fields of `DaySheet`."""
    return [_plain(asdict(sheet), zone) for sheet in sheets]


def _plain(value: object, zone: ZoneInfo) -> object:
    match value:
        case dict():
            return {key: _plain(part, zone) for key, part in value.items()}
        case list() | tuple():
            return [_plain(part, zone) for part in value]
        case datetime():
            return value.astimezone(zone).isoformat()
        case date():
            return value.isoformat()
        case _:
            return value
