"""Text made to fit a width in pixels."""

from replanner.advice.names import shorten
from replanner.pictures.letters import text_width


def fitted(words: str, size: float, room: float, *, bold: bool = False) -> str:
    """Return a text cut between words so that it fits. [px]."""
    width = len(words)
    while width > 1 and text_width(words, size, bold=bold) > room:
        width -= 1
        words = shorten(words, width)
    return words


def wrapped(words: str, size: float, room: float, *, most: int, bold: bool = False) -> list[str]:
    """Return a text in lines that fit, at most `most` of them, the last cut if need be. [px]."""
    lines: list[str] = []
    left = words.split()
    while left and len(lines) < most:
        count = len(left)
        if len(lines) < most - 1:
            while count > 1 and text_width(" ".join(left[:count]), size, bold=bold) > room:
                count -= 1
        lines.append(fitted(" ".join(left[:count]), size, room, bold=bold))
        left = left[count:]
    return lines
