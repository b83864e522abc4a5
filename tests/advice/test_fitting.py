"""What matters least gives way first, and gets its room back if there is some."""

from replanner.advice.fitting import fit, packed, part, shortest, squeezed

PARTS = (
    part(("keep", 0)),
    part(("long long", 0), ("short", 10), ("", 50)),
    part(("extra", 0), ("", 20)),
)


def at_most(lines: int, characters: int):
    return lambda told: len(told) <= lines and len("".join(told)) <= characters


def test_nothing_gives_way_without_need() -> None:
    assert fit(PARTS, at_most(3, 99)) == ("keep", "long long", "extra")


def test_the_least_painful_goes_first() -> None:
    assert fit(PARTS, at_most(3, 14)) == ("keep", "short", "extra")


def test_room_left_over_is_given_back() -> None:
    assert fit(PARTS, at_most(2, 99)) == ("keep", "long long")


def test_what_must_stay_stays() -> None:
    assert fit(PARTS, at_most(1, 4)) == ("keep",)
    assert fit(PARTS, at_most(0, 0)) is None
    assert fit(PARTS, at_most(2, 9), most_pain=10) is None
    assert shortest(PARTS) == ("keep",)


def test_items_share_lines_in_their_order() -> None:
    assert packed(("aaaa", "bbbb", "cc"), width=10) == ("aaaa; bbbb", "cc")


def test_a_line_tries_other_words_before_shorter_names() -> None:
    name = "Salt Causeway outward"

    def long(width: int) -> str:
        return f"{name[:width]} and the place"

    def brief(width: int) -> str:
        return name[:width]

    assert squeezed(long, brief, width=25) == name
    assert squeezed(long, width=25) == "Salt Causew and the place"
