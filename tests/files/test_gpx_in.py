"""GPX in: sound files of other projects' test suites, and hostile ones made here.

Outside check: gpxpy reads the same points out of every sound file.
"""

import contextlib
import math
import time
from datetime import UTC, datetime
from pathlib import Path

import gpxpy
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from replanner.errors import InputError
from replanner.files.gpx_in import MOST_BYTES, read_gpx

GPX = Path(__file__).parents[1] / "data" / "gpx"
SOUND = (
    "gpxpy_cerknicko-jezero-no-creator.gpx",
    "gpxpy_cerknicko-without-times.gpx",
    "gpxpy_first_and_last_elevation.gpx",
    "gpxpy_gpx1_1_with_all_fields.gpx",
    "gpxpy_route.gpx",
    "gpxpy_track-with-extremes.gpx",
    "jpx_GPX_extensions.gpx",
)
WITHOUT_A_LINE = {
    "gpxpy_unicode_with_bom.gpx": "holds no track or route, only waypoints (1)",
    "jpx_Austria.gpx": "holds no track or route, only waypoints (82)",
    "jpx_GPX-full.gpx": "holds no line, only a single point",
    "jpx_empty-ele.gpx": "holds no track or route, only waypoints (1)",
    "jpx_empty-gpx.gpx": "holds no track or route",
    "jpx_empty-route.gpx": "holds a track or route without any point",
    "jpx_empty-track-segment.gpx": "holds a track or route without any point",
}


def gpx(points: str, *, head: str = "", root: str = "gpx") -> bytes:
    body = f"<{root}><trk><trkseg>{points}</trkseg></trk></{root}>"
    return f'<?xml version="1.0" encoding="UTF-8"?>{head}{body}'.encode()


PAIR = '<trkpt lat="1" lon="2"/><trkpt lat="1.1" lon="2"/>'


def refusal(data: bytes, where: str = "ride.gpx") -> str:
    with pytest.raises(InputError) as caught:
        read_gpx(data, where=where)
    lines = str(caught.value).splitlines()
    assert lines == [str(fault) for fault in caught.value.faults]  # one plain line each
    assert all(fault.what and fault.where and fault.mend for fault in caught.value.faults)
    return "\n".join(lines)


def test_every_file_is_spoken_for():
    found = {path.name for path in GPX.glob("*.gpx")}
    assert found == {*SOUND, *WITHOUT_A_LINE, "jpx_invalid-latlon.gpx"}


@pytest.mark.parametrize("name", SOUND)
def test_gpxpy_reads_the_same_points(name):
    data = (GPX / name).read_bytes()
    theirs = gpxpy.parse(data.decode("utf-8-sig"))
    lines = [[p for part in track.segments for p in part.points] for track in theirs.tracks]
    lines += [route.points for route in theirs.routes]
    wanted = [
        [
            (
                point.latitude,
                point.longitude,
                point.elevation,
                point.time and point.time.replace(tzinfo=point.time.tzinfo or UTC),
            )
            for point in line
        ]
        for line in lines
        if len(line) > 1
    ]
    found = [
        [
            (
                one.point.latitude,
                one.point.longitude,
                None if math.isnan(one.point.elevation) else one.point.elevation,
                one.at,
            )
            for one in track.points
        ]
        for track in read_gpx(data, where=name)
    ]
    assert found == wanted
    assert wanted


@pytest.mark.parametrize("name", WITHOUT_A_LINE)
def test_a_file_without_a_line_says_what_it_holds(name):
    told = refusal((GPX / name).read_bytes(), name)
    assert told == f"{name}: {WITHOUT_A_LINE[name]} -- export the ride as a track"


def test_wrong_points_are_named_one_by_one():
    told = refusal((GPX / "jpx_invalid-latlon.gpx").read_bytes(), "log.gpx").splitlines()
    assert told[0].startswith("log.gpx, track 1, point 1: has no latitude")
    assert any("point 2: longitude '16.dfd' is no number" in line for line in told)
    assert any("point 6: latitude '-37050536.000000000' lies beyond 90" in line for line in told)


def test_after_five_wrong_points_the_rest_is_counted():
    told = refusal(gpx('<trkpt lat="999" lon="0"/>' * 40)).splitlines()
    assert len(told) == 6
    assert told[-1].startswith("ride.gpx: 35 more")


@pytest.mark.parametrize("written", ["nan", "NaN", "inf", "-Infinity", "1e999", "", "12,5", "x"])
@pytest.mark.parametrize("key", ["lat", "lon"])
def test_what_is_no_number_is_no_coordinate(key, written):
    other = {"lat": "lon", "lon": "lat"}[key]
    told = refusal(gpx(f'<trkpt {key}="{written}" {other}="1"/>' + PAIR))
    assert "is no number" in told


@pytest.mark.parametrize(("latitude", "longitude"), [("999", "0"), ("90.1", "0"), ("0", "-180.5")])
def test_what_is_not_on_the_earth_is_refused(latitude, longitude):
    assert "lies beyond" in refusal(gpx(f'<trkpt lat="{latitude}" lon="{longitude}"/>' + PAIR))


def test_what_lies_on_the_edge_is_taken():
    edge = '<trkpt lat="90" lon="180"/><trkpt lat="-90" lon="-180"/>'
    assert len(read_gpx(gpx(edge), where="")[0].points) == 2


# Entities that grow or reach out, as the OWASP notes on XML external entities list them.
BOMB = '<!DOCTYPE g [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;">]>'
HEADS = {
    "entities": BOMB,
    "external": '<!DOCTYPE g [<!ENTITY x SYSTEM "file:///etc/hostname">]>',
    "parameter": '<!DOCTYPE g [<!ENTITY % p SYSTEM "http://127.0.0.1:9/p">%p;]>',
    "only a type": "<!DOCTYPE gpx>",
    "type by address": '<!DOCTYPE gpx SYSTEM "http://127.0.0.1:9/gpx.dtd">',
}


@pytest.mark.parametrize("head", HEADS.values(), ids=HEADS.keys())
def test_a_document_type_is_refused_before_anything_grows(head):
    begun = time.process_time()
    told = refusal(gpx(f"<name>&b;</name>{PAIR}", head=head))
    assert "holds a document type or entities" in told
    assert time.process_time() - begun < 1.0


def test_an_entity_that_is_not_declared_is_no_xml():
    assert "is not XML" in refusal(gpx("<name>&x;</name>" + PAIR))


@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-le", "utf-16-be", "utf-32"])
def test_other_encodings_are_refused(encoding):
    assert "UTF-8" in refusal(gpx(PAIR).decode().replace("UTF-8", encoding).encode(encoding))


@pytest.mark.parametrize("declared", ["UTF-16", "UTF-7", "ISO-8859-1", "nonsense"])
def test_what_a_file_says_of_its_encoding_is_not_believed(declared):
    data = gpx(PAIR).replace(b"UTF-8", declared.encode())
    assert len(read_gpx(data, where="")[0].points) == 2


def test_a_file_in_latin_1_says_what_to_do():
    data = "<gpx><trk><name>Höhe</name></trk></gpx>".encode("latin-1")
    assert refusal(data) == "ride.gpx: is not written in UTF-8 (byte 18) -- save it as UTF-8"


@pytest.mark.parametrize("root", ["kml", "html", "rss", "TrainingCenterDatabase"])
def test_another_root_is_no_gpx(root):
    assert f"is no GPX: it begins with <{root}>" in refusal(gpx(PAIR, root=root))


@pytest.mark.parametrize(
    "data",
    [b"", b" \n", b"\xef\xbb\xbf", b"<", b"<gpx>", b"%PDF-1.7", b"PK\x03\x04", b"{}", b"\x00"],
)
def test_what_is_no_xml_is_refused(data):
    assert refusal(data)


def test_a_file_too_large_is_not_read():
    begun = time.process_time()
    told = refusal(b"<" * (18 * 1_000_000))
    assert told.startswith("ride.gpx: is 18.0 MB long, more than 2.0 MB")
    assert time.process_time() - begun < 0.1


def test_the_limit_is_two_megabytes():
    small = gpx(PAIR)
    assert len(read_gpx(small + b" " * (MOST_BYTES - len(small)), where="")) == 1
    refusal(small + b" " * (MOST_BYTES + 1 - len(small)))


@pytest.mark.parametrize(
    "body", [b"<a/>" * 490_000, b"<a>" * 280_000 + b"</a>" * 280_000, b"<a " + b"b='' " * 300_000]
)
def test_a_file_of_nothing_but_tags_does_not_hold_us_up(body):
    begun = time.process_time()
    assert refusal(b"<gpx>" + body + b"</gpx>")
    assert time.process_time() - begun < 3.0


@pytest.mark.parametrize("name", ["../../etc/passwd", "/dev/zero", "a\nb\x00c\x1b[2J", "n" * 5000])
def test_a_name_is_only_told_never_opened(name):
    told = refusal(b"<gpx/>", name)
    assert "\n" not in told
    assert "\x1b" not in told
    assert len(told) < 200
    assert len(read_gpx(gpx(PAIR), where=name)) == 1


def test_a_name_inside_is_told_on_one_short_line():
    named = gpx(PAIR).replace(b"<trkseg>", f"<name> A\n\u202eB {'x' * 500}</name><trkseg>".encode())
    (track,) = read_gpx(named, where="")
    assert track.name.startswith("A B x")
    assert len(track.name) <= 80


def test_heights_and_times_that_make_no_sense_are_unknown():
    points = "".join(
        f'<trkpt lat="1" lon="{n}"><ele>{ele}</ele><time>{at}</time></trkpt>'
        for n, (ele, at) in enumerate(
            [
                ("12.5", "2027-04-03T07:00:00Z"),
                ("4325376.0", "2027-04-03T09:00:00+02:00"),
                ("nan", "2027-04-03T07:00:00"),
                ("", "yesterday"),
                ("-99999", ""),
                ("x", "0001-01-01T00:00:00+14:00"),
            ]
        )
    )
    (track,) = read_gpx(gpx(points), where="")
    seven = datetime(2027, 4, 3, 7, tzinfo=UTC)
    assert [one.at for one in track.points] == [seven, seven, seven, None, None, None]
    heights = [one.point.elevation for one in track.points]
    assert heights[0] == 12.5
    assert all(math.isnan(height) for height in heights[1:])


def test_lines_too_short_are_passed_over_if_another_is_left():
    single = '</trkseg></trk><trk><trkseg><trkpt lat="5" lon="5"/></trkseg></trk><trk><trkseg>'
    assert len(read_gpx(gpx(PAIR + single + PAIR), where="")) == 2


@settings(max_examples=150, deadline=None)
@given(st.binary(max_size=200), st.integers(0, 400), st.integers(0, 40))
def test_whatever_comes_is_read_or_refused(noise, at, cut):
    sound = gpx(PAIR)
    for data in (noise, sound[:at] + noise + sound[at + cut :]):
        with contextlib.suppress(InputError):
            tracks = read_gpx(data, where="x")
            assert all(math.isfinite(one.point.latitude) for t in tracks for one in t.points)
