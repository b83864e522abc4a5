"""Slips of a gloved finger: each letter missed, doubled, hit beside, or changed with the next."""

# Neighbouring letters on a QWERTY keyboard (ISO 9995-based layout; common practice).
_ROWS = ("qwertyuiop", "asdfghjkl", "zxcvbnm")
_PLACE = {
    letter: (row, column) for row, line in enumerate(_ROWS) for column, letter in enumerate(line)
}


def neighbours(letter: str) -> list[str]:
    """Return the letters beside one, above and below included."""
    if letter not in _PLACE:
        return []
    row, column = _PLACE[letter]
    # Each row is shifted half a key to the right of the one above.
    return [
        other
        for other, (r, c) in _PLACE.items()
        if other != letter
        and abs(r - row) <= 1
        and c - column in ((-1, 0, 1) if r == row else (0, 1) if r < row else (-1, 0))
    ]


def slips_of(line: str) -> list[str]:
    """Return the line with every single slip in a letter; digits and marks are typed right."""
    slipped = []
    for place, sign in enumerate(line):
        if not sign.isalpha():
            continue
        head, tail = line[:place], line[place + 1 :]
        slipped += [head + tail, head + sign + sign + tail]
        slipped += [head + other + tail for other in neighbours(sign.lower())]
        if tail and tail[0].isalpha():
            slipped.append(head + tail[0] + sign + tail[1:])
    return slipped
