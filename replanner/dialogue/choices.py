"""Which of the offered options a line picks: its number, its name, its time, or its half of day."""

from replanner.dialogue.intent_types import Option
from replanner.dialogue.names import find_name, words_of
from replanner.dialogue.times import wall_times

_ORDINALS = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth")
_HALVES = {"am": 0, "morning": 0, "pm": 1, "afternoon": 1, "evening": 1}


def chosen(options: tuple[Option, ...], line: str) -> str | None:
    """Return the line that says the picked option without doubt; None: none was picked."""
    words = tuple(word for word in words_of(line) if word not in ("the", "one", "number", "please"))
    if not words:
        return None
    numbers = {str(number): option for number, option in enumerate(options, 1)}
    numbers |= dict(zip(_ORDINALS, options, strict=False))
    if len(words) == 1 and words[0] in numbers:
        return numbers[words[0]].says
    times = {option.label: option for option in options if ":" in option.label}
    if times:
        if len(words) == 1 and words[0] in _HALVES:
            return options[_HALVES[words[0]] % len(options)].says
        meant = [f"{wall:%H:%M}" for wall in wall_times(words)]
        return times[meant[0]].says if len(meant) == 1 and meant[0] in times else None
    found = find_name(" ".join(words), {option.says: option.label for option in options})
    return found.best[0] if len(found.best) == 1 else None
