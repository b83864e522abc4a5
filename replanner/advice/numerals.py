"""Numbers and times in full words, for reading aloud.

Each number up to ninety-nine is one sentence of the catalogue, since languages build them in
ways of their own.
"""

from replanner.advice.words import Words

# fmt: off
_UNITS = (
    "zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten",
    "eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen",
    "nineteen",
)
_TENS = ("twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")
# fmt: on
_HUNDRED = 100
_THOUSAND = 1000
_MILLION = 1_000_000


def number_words(number: int, words: Words) -> str:
    """Return a whole number in words, below a million in size.

    Raises
    ------
    ValueError
        If it is larger.
    """
    if abs(number) >= _MILLION:
        raise ValueError(f"number must be below a million, got {number}")
    if number < 0:
        return words.say("minus {number}", number=number_words(-number, words))
    if number < _HUNDRED:
        return words.say(_below_hundred(number))
    size, one, many = (
        (_HUNDRED, "{n} hundred", "{n} hundred {rest}")
        if number < _THOUSAND
        else (_THOUSAND, "{n} thousand", "{n} thousand {rest}")
    )
    count, rest = divmod(number, size)
    n = number_words(count, words)
    return words.say(many, n=n, rest=number_words(rest, words)) if rest else words.say(one, n=n)


def _below_hundred(number: int) -> str:
    if number < len(_UNITS):
        return _UNITS[number]
    tens, units = divmod(number, 10)
    return _TENS[tens - 2] + (f"-{_UNITS[units]}" if units else "")


def figure_words(figure: str, words: Words) -> str:
    """Return a plain figure such as "-2.5" in words, digit by digit after the point."""
    whole, _, decimals = figure.partition(".")
    sign, size = ("minus ", whole[1:]) if whole.startswith("-") else ("", whole)
    said = number_words(int(size or "0"), words)
    if decimals.strip("0"):
        digits = " ".join(number_words(int(digit), words) for digit in decimals)
        said = words.say("{whole} point {digits}", whole=said, digits=digits)
    return words.say("minus {number}", number=said) if sign else said


def time_words(hour: int, minute: int, words: Words) -> str:
    """Return a time of the 24-hour clock in words: "fifteen fifteen", "eight oh five"."""
    hours = number_words(hour, words)
    if minute == 0:
        return words.say("{hours} o'clock", hours=hours)
    minutes = number_words(minute, words)
    if minute < 10:  # noqa: PLR2004 - "eight five" would be heard as eighty-five
        return words.say("{hours} oh {minutes}", hours=hours, minutes=minutes)
    return words.say("{hours} {minutes}", hours=hours, minutes=minutes)
