"""Times of day, stretches of time and days of the tour, as riders say them."""

import re
from collections.abc import Sequence
from datetime import date, time, timedelta

from replanner.dialogue.names import one_slip

_COUNTED = "zero one two three four five six seven eight nine ten eleven twelve"
_NUMBERS = {word: number for number, word in enumerate(_COUNTED.split())}
_NUMBERS |= {"fifteen": 15, "twenty": 20, "thirty": 30, "forty": 40, "fortyfive": 45, "fifty": 50}
_WEEK = "monday tuesday wednesday thursday friday saturday sunday"
_WEEKDAYS = tuple(_WEEK.split())
_YEAR = "january february march april may june july august september october november december"
_MONTHS = tuple(_YEAR.split())
_CLOCK = re.compile(r"(\d{1,2})(?::(\d\d))?(am|pm)?")
_ORDINAL = re.compile(r"(\d{1,2})(st|nd|rd|th)?")
_MORNING = frozenset({"am", "morning"})
_AFTERNOON = frozenset({"pm", "afternoon", "evening", "tonight"})
_FILLING = frozenset({"in", "at", "by", "oclock", "sharp", "tomorrow", "about", "around", "hours"})
_NOON = 12
_ISO_PARTS = 3  # 2027-04-03
_LAST_DOUBTFUL_HOUR = 4  # nobody leaves at 1 to 4 in the night without saying "am" or "03:00"
_MILITARY_DIGITS = (3, 4)


def wall_times(said: Sequence[str]) -> tuple[time, ...]:
    """Return the time of day meant: none, one, or both where morning or afternoon is open."""
    words = [word for word in said if word not in _FILLING]
    half = _half_of_day(words)
    words = [word for word in words if word not in _MORNING | _AFTERNOON]
    if words in (["noon"], ["midday"]):
        return (time(_NOON),)
    found = _clock(words)
    if found is None:
        return ()
    hour, minute, sure, given_half = found
    return _of_half(hour, minute, sure=sure, half=half or given_half)


def _half_of_day(words: Sequence[str]) -> str:
    if any(word in _MORNING for word in words):
        return "am"
    return "pm" if any(word in _AFTERNOON for word in words) else ""


def _of_half(hour: int, minute: int, *, sure: bool, half: str) -> tuple[time, ...]:
    if hour > 23 or minute > 59:  # noqa: PLR2004 - the clock
        return ()
    if half == "am":
        return (time(hour % _NOON, minute),) if hour <= _NOON else ()
    if half == "pm":
        return (time(hour % _NOON + _NOON if hour <= _NOON else hour, minute),)
    if not sure and 1 <= hour <= _LAST_DOUBTFUL_HOUR:
        return (time(hour, minute), time(hour + _NOON, minute))
    return (time(hour, minute),)


def _clock(words: Sequence[str]) -> tuple[int, int, bool, str] | None:
    """Return hour, minute, whether the 24 h clock was meant for sure, and "am", "pm" or ""."""
    if len(words) == 1:
        return _one_word(words[0])
    if len(words) == 2:  # noqa: PLR2004 - "half 7", "seven thirty", "7 30"
        hour, minute = _number(words[1]), _number(words[0])
        if words[0] == "half" and hour is not None:
            return hour, 30, False, ""
        first, second = minute, hour
        if first is not None and second is not None and (second >= 10 or words[1] in ("00", "05")):  # noqa: PLR2004 - minutes have two digits
            return first, second, len(words[0]) == 2 and words[0].isdigit(), ""  # noqa: PLR2004
    if len(words) == 3 and words[1] in ("past", "to"):  # noqa: PLR2004 - "half past 7"
        hour = _number(words[2])
        minute = {"half": 30, "quarter": 15}.get(words[0], _number(words[0]))
        if hour is None or minute is None or not 0 < minute < 60:  # noqa: PLR2004
            return None
        return (
            (hour, minute, False, "")
            if words[1] == "past"
            else ((hour - 1) % 24, 60 - minute, False, "")
        )
    return None


def _one_word(word: str) -> tuple[int, int, bool, str] | None:
    if word in _NUMBERS:
        return _NUMBERS[word], 0, False, ""
    if word.isdigit() and len(word) in _MILITARY_DIGITS:  # 730, 0730
        return int(word[:-2]), int(word[-2:]), word.startswith("0"), ""
    found = _CLOCK.fullmatch(word)
    if found is None:
        return None
    hour, minute, half = found.groups()
    return int(hour), int(minute or 0), hour.startswith("0"), half or ""


def _number(word: str) -> int | None:
    if word.isdecimal() and len(word) <= 2:  # noqa: PLR2004 - no hour or minute is longer
        return int(word)
    return _NUMBERS.get(word)


def minutes_of(said: Sequence[str]) -> float | None:
    """Return a stretch of time in minutes: "40", "half an hour", "1 hr 20"; None: not one."""
    text = " ".join(word for word in said if word not in {"an", "a", "about", "and", "another"})
    text = " ".join(str(_NUMBERS.get(word, word)) for word in text.split())
    if text in ("hour", "hr", "1 hour", "1 hr"):
        return 60.0
    if text in ("half hour", "half hr"):
        return 30.0
    if text in ("hour half", "hour and half", "1 hour half"):
        return 90.0
    found = re.fullmatch(
        r"(?:(\d{1,2}) ?(?:hours?|hrs?|h))? ?(?:(\d{1,3}) ?(?:minutes?|mins?|m)?)?", text
    )
    if found is None or not any(found.groups()):
        return None
    return 60.0 * int(found.group(1) or 0) + int(found.group(2) or 0)


def day_of(
    said: Sequence[str], days: Sequence[date], today: date, planned: date
) -> date | str | None:
    """Return the day of the tour that was meant.

    Parameters
    ----------
    said : sequence of str
        Words such as ``("thursday",)``, ``("day", "3")`` or ``("16", "oct")``.
    days : sequence of date
        The days of the tour, in order.
    today : date
        Local date on which it was said.
    planned : date
        The day spoken about.

    Returns
    -------
    date, str or None
        The day; the words as a day that the tour has not; None: not the words of a day.
    """
    words = [word for word in said if word not in {"on", "the", "of", "this", "next", "loops"}]
    text = " ".join(words)
    if text in ("today", "tomorrow"):
        wanted = today + timedelta(days=text == "tomorrow")
        return wanted if wanted in days else text
    if text in ("day after", "following day"):
        wanted = planned + timedelta(days=1)
        return wanted if wanted in days else text
    if len(words) == 2 and words[0] == "day":  # noqa: PLR2004
        number = _number(words[1])
        if number is None:
            return None
        return days[number - 1] if 1 <= number <= len(days) else text
    fits = _calendar(words, days)
    if fits is None:
        return None
    later = [day for day in fits if day > planned] or fits
    return later[0] if later else text


def _calendar(words: Sequence[str], days: Sequence[date]) -> list[date] | None:
    """Return the days of the tour that a weekday or a date of the month names; None: neither."""
    if len(words) == _ISO_PARTS and all(word.isdecimal() for word in words):
        wanted = "-".join(words)
        return [day for day in days if day.isoformat() == wanted]
    weekday = month = number = None
    for word in words:
        ordinal = _ORDINAL.fullmatch(word)
        if ordinal and (ordinal.group(2) or len(words) > 1):
            number = int(ordinal.group(1))
        elif (found := _named(word, _WEEKDAYS)) is not None:
            weekday = found
        elif (found := _named(word, _MONTHS)) is not None:
            month = found + 1
        else:
            return None
    if not words or (weekday is None and number is None):
        return None
    return [
        day
        for day in days
        if (weekday is None or day.weekday() == weekday)
        and (number is None or day.day == number)
        and (month is None or day.month == month)
    ]


def _named(word: str, names: Sequence[str]) -> int | None:
    """Return the index of the weekday or month meant by its name, its beginning or a slip."""
    short = 3
    if len(word) < short:
        return None
    fits = [
        index
        for index, name in enumerate(names)
        if name.startswith(word) or (len(word) > short + 1 and one_slip(word, name))
    ]
    return fits[0] if len(fits) == 1 else None


def nearly_a_day(word: str) -> bool:
    """Tell whether a word may be a mistyped weekday, short or long."""
    return any(one_slip(word, day) or one_slip(word, day[:3]) for day in _WEEKDAYS)
