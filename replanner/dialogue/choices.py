"""Which of the offered options a line picks: its number, its name, its time, or its half of day."""

from dataclasses import replace

from replanner.dialogue import replies
from replanner.dialogue.changing import Outcome, say
from replanner.dialogue.intent_types import Intent, Option, Plain
from replanner.dialogue.names import find_name, words_of
from replanner.dialogue.state import Choice, State
from replanner.dialogue.times import wall_times
from replanner.dialogue.topics import Topic

_ORDINALS = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth")
_HALVES = {"am": 0, "morning": 0, "pm": 1, "afternoon": 1, "evening": 1}


def picked(question: Choice, intent: Intent, line: str) -> str | None:
    """Return the line that was picked; a yes picks the only one. None: none was."""
    if len(question.options) == 1 and intent == Plain(Topic.YES):
        return question.options[0].says
    return chosen(question.options, line)


def unpicked(state: State, question: Choice, intent: Intent) -> Outcome | None:
    """Ask again at an ok that could mean anything, and leave a guess at a no; None: neither.

    Parameters
    ----------
    state : State
        Without the question.
    """
    asked, one = replace(state, question=question), len(question.options) == 1
    if one and intent == Plain(Topic.OK):
        which = "Which: yes for what I just asked, or accept for the plan as shown?"
        return say(asked, state.words.say(which))
    if intent in (Plain(Topic.YES), Plain(Topic.OK)):
        return say(asked, replies.which(question.options, state.words))
    if one and intent == Plain(Topic.NO):
        return say(state, state.words.say("Left as it was."))
    return None


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
