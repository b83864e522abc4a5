"""Making a text fit its limits: what matters least gives way first.

A text is made of parts. Each part knows itself in several variants, longest first, and how much
it hurts to fall back to each; the last may be empty, which leaves the part out.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import chain
from typing import NamedTuple

from replanner.advice.names import ELLIPSIS, shorten

LINE = 60
STRETCH = 6  # a line has about so many characters: a few more are better than half a name
_NAME_WIDTHS = (60, 32, 24, 18, 14, 11, 8)

Lines = tuple[str, ...]
Fits = Callable[[Lines], bool]


class Variant(NamedTuple):
    """One way of saying a part; `pain` is what it costs the reader to get only this much."""

    lines: Lines
    pain: int = 0


@dataclass(frozen=True, slots=True)
class Part:
    """A part of a text; `variants` have rising pain."""

    variants: tuple[Variant, ...]


def part(*variants: tuple[str | Lines, int]) -> Part:
    """Return a part of (text or lines, pain); an empty text is no line at all."""
    return Part(
        tuple(
            Variant((said,) if said else (), pain)
            if isinstance(said, str)
            else Variant(tuple(line for line in said if line), pain)
            for said, pain in variants
        )
    )


def fit(parts: Sequence[Part], fits: Fits, most_pain: int | None = None) -> Lines | None:
    """Return the lines of all parts, with as little pain as it takes to fit.

    Parts fall back in order of pain until the whole fits; then each is given back what room
    there is, the most painful first. None: no variants up to `most_pain` fit.
    """
    chosen = [0] * len(parts)

    def lines() -> Lines:
        return tuple(
            line for p, at in zip(parts, chosen, strict=True) for line in p.variants[at].lines
        )

    steps = sorted(
        (variant.pain, index, at)
        for index, p in enumerate(parts)
        for at, variant in enumerate(p.variants)
        if at and (most_pain is None or variant.pain <= most_pain)
    )
    for _, index, at in steps:
        if fits(lines()):
            break
        chosen[index] = at
    if not fits(lines()):
        return None
    for _, index, at in reversed(steps):
        if chosen[index] == at:
            chosen[index] = at - 1
            if not fits(lines()):
                chosen[index] = at
    return lines()


def shortest(parts: Sequence[Part]) -> Lines:
    """Return the lines of all parts at their shortest."""
    return tuple(line for p in parts for line in p.variants[-1].lines)


def squeezed(
    *makes: Callable[[int], str], width: int = LINE, stretch: int = STRETCH, whole: int = 0
) -> str:
    """Return the first line that fits: all wordings with long names, then with shorter ones.

    Parameters
    ----------
    makes : callables
        Wordings by the characters a name may have, in order of preference.
    width : int
    stretch : int
        A line may run on by so many characters rather than carry a name cut short.
    whole : int
        So many of the first wordings tell all that is wanted: for them too a line may run on.
    """
    full = [make(_NAME_WIDTHS[0]) for make in makes]
    lines = [*full, *(make(names) for names in _NAME_WIDTHS[1:] for make in makes)]
    choices = (
        (line for line in full[:whole] if len(line) <= width),
        (line for line in full[:whole] if len(line) <= width + stretch),
        (line for line in lines if len(line) <= width and ELLIPSIS not in line),
        (line for line in full if len(line) <= width + stretch),
        (line for line in lines if len(line) <= width),
    )
    return next(chain.from_iterable(choices), None) or shorten(lines[-1], width)


def packed(items: Sequence[str], width: int = LINE, separator: str = "; ") -> Lines:
    """Return the items joined into as few lines as keep their order."""
    lines: list[str] = []
    for item in items:
        if lines and len(lines[-1]) + len(separator) + len(item) <= width:
            lines[-1] += separator + item
        else:
            lines.append(shorten(item, width))
    return tuple(lines)
