"""Files of strangers' making: told off in one line, never run, never a path, never waited for long.

The bomb is the "billion laughs" of the XML entity kind (CVE-2003-1564); what is refused and why is
the project's own rule (size before download, no DTD, UTF-8, names only told).
"""

import io
import time
import zipfile

import pytest

from replanner.channels.telegram.outgoing import units
from replanner.people import Role
from tests.safety.desk import LEADER, Desk, document

LOL = "".join(f'<!ENTITY l{n} "{f"&l{n - 1};" * 10}">' for n in range(1, 7))
BOMB = f'<?xml version="1.0"?><!DOCTYPE gpx [<!ENTITY l0 "ha">{LOL}]><gpx>&l6;</gpx>'.encode()
OUTSIDE = b'<!DOCTYPE gpx [<!ENTITY x SYSTEM "file:///etc/passwd">]><gpx>&x;</gpx>'
TRACK = b'<gpx><trk><trkseg><trkpt lat="1" lon="2"/><trkpt lat="1" lon="3"/></trkseg></trk></gpx>'


def zipped() -> bytes:
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w") as archive:
        archive.writestr("../../x.gpx", TRACK)
    return held.getvalue()


@pytest.fixture
def led(desk: Desk) -> Desk:
    desk.joined(LEADER, Role.LEADER)
    return desk


def sends(desk: Desk, name: str, content: bytes, size: int | None = None) -> str:
    """Return what the leader is told of a file, and that it was told in time, in one message."""
    desk.files["F1"] = content
    tour = desk.in_force()[3]
    begun = time.process_time()
    desk.gets(document(LEADER, name, len(content) if size is None else size))
    assert time.process_time() - begun < 5.0
    (said,) = desk.told(LEADER)
    assert desk.in_force()[3] == tour
    assert units(said) <= 4096
    assert all(sign.isprintable() or sign == "\n" for sign in said), said
    return said


@pytest.mark.parametrize(
    ("content", "why"),
    [
        (BOMB, "document type or entities"),
        (OUTSIDE, "document type or entities"),
        (TRACK.decode().encode("utf-16"), "UTF-16"),
        (zipped(), "UTF-8"),
        (b"", "is empty"),
        (b"\x00" * 5000, "UTF-16 or the like"),
        (b"<kml/>", "is no GPX"),
        (b"<gpx>" * 200_001, "more than 200000 tags"),
        (b"<gpx>" * 100_000, "is not XML"),  # nested deep, never closed
        (TRACK.replace(b'"1"', b'"999"'), "lies beyond 90 degrees"),
        (TRACK.replace(b'"1"', b'"nan"'), "is no number"),
        (TRACK.replace(b'"1"', "\u202egpx.\x1b[2J".encode()), ""),
        (b"<gpx><trk><name>\xff</name></trk></gpx>", "UTF-8"),
    ],
)
def test_a_hostile_track_is_told_off(led: Desk, content: bytes, why: str) -> None:
    assert why in sends(led, "track.gpx", content)


def test_the_bomb_is_as_small_as_it_says() -> None:
    assert len(BOMB) < 700  # of which 2 million characters would become


def test_a_large_file_is_not_even_fetched(led: Desk) -> None:
    assert "2 MB are the most" in sends(led, "track.gpx", TRACK, size=2_000_001)
    assert led.fetched == []


def test_a_file_larger_than_it_was_told_to_be_is_not_read(led: Desk) -> None:
    assert "2 MB are the most" in sends(led, "track.gpx", b"#" * 2_000_001, size=900)
    assert "400 kB are the most" in sends(led, "tour.toml", b"#" * 400_001, size=900)


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("../../x", "x: I can read"),
        ("../../etc/track.gpx", "track.gpx"),
        ("..\\..\\track.gpx", "track.gpx"),
        ("\x1b[2J\x00track.gpx", "track.gpx"),
        ("gpx.\u202exe\u2066track.gpx", "track.gpx"),
        ("n" * 10_000 + ".gpx", "n\u2026.gpx"),
        ("n" * 10_000, "n\u2026: I can read"),
        ("\ud83d.gpx", ".gpx"),
        ("", "I can read"),
        ("track.gpx.exe", "I can read"),
        ("<b>&track</b>.gpx", ".gpx"),
    ],
)
def test_a_name_is_only_told_and_short(led: Desk, name: str, told: str) -> None:
    said = sends(led, name, b"<kml/>")
    assert ".." not in said
    assert len(max(said.split(), key=len)) <= 60
    if "I can read" in told or name.endswith("track.gpx"):
        assert told in said.replace("your track", "track.gpx")


@pytest.mark.parametrize(
    "content",
    [
        b"x = " + b"[" * 390_000,
        b"x = " + b"[" * 190_000 + b"]" * 190_000,
        b"x = " + b"{a=" * 130_000,
        b"a." * 190_000 + b"a = 1",
        b"[" + b"a." * 190_000 + b"a]",
        b'x = "' + b"\\u0000" * 60_000 + b'"',
        b"x = 1e999\ny = nan\n" + b"".join(b"k%d = 1\n" % n for n in range(24_000)),
        b"\xff\xfex\x00",
        zipped(),
        b"",
    ],
    ids=["open", "nested", "tables", "dotted", "header", "nul", "keys", "utf-16", "zip", "empty"],
)
def test_a_hostile_tour_file_is_told_off(led: Desk, content: bytes) -> None:
    assert sends(led, "tour.toml", content)
    assert led.rows()["asides"] == []


def test_a_tour_of_five_thousand_legs_is_told_off_in_time(led: Desk) -> None:
    legs = "".join(f'[legs.l{n}]\nname = "Leg {n}"\nstart = "nowhere"\n' for n in range(5000))
    said = sends(led, "tour.toml", f'name = "Long"\n{legs}'.encode())
    assert "and " in said
    assert led.rows()["asides"] == []
