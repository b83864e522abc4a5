from datetime import UTC, date, datetime, time
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from replanner.errors import InputError
from replanner.files.resources import demo_file
from replanner.files.shape import MOST_LIKENED
from replanner.files.toml_text import TomlText, parse_toml
from replanner.files.tour_toml import load_tour, parse_tour, tour_of
from replanner.trip.model import SURFACES, Exposure, HaltKind, SurfaceClass, Tour, Way
from replanner.trip.timing import Speeds, estimate_leg_minutes
from replanner.units import UnitSystem

TWO_BAYS = Path(__file__).parents[1] / "data/tour_two_bays.toml"
SOUND = TWO_BAYS.read_text(encoding="utf-8")


def spoilt(*changes: tuple[str, str]) -> bytes:
    """Return the sound text with pieces replaced; every piece must be there."""
    text = SOUND
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new, 1)
    return text.encode()


def line_of(raw: bytes, piece: str) -> int:
    return raw.decode()[: raw.decode().index(piece)].count("\n") + 1


def faults(raw: bytes) -> list[str]:
    with pytest.raises(InputError) as caught:
        parse_tour(raw, "t.toml", limit_names={"gust", "visibility"})
    return [str(fault) for fault in caught.value.faults]


@pytest.fixture(scope="module")
def tour() -> Tour:
    return load_tour(TWO_BAYS, limit_names={"gust"})


def test_local_words_become_the_models_values(tour: Tour) -> None:
    saddle = tour.legs["saddle"]
    gate = saddle.windows[0]
    assert (gate.weekdays, gate.opens, gate.closes) == (
        frozenset(range(5)), time(7, 30), time(17, 30))  # fmt: skip
    assert saddle.halts[0].kind is HaltKind.PHOTO
    assert saddle.halts[0].light_from_deg == (20, 110)
    ferry = tour.legs["ferry"].ferry
    assert ferry is not None
    assert ferry.gust_limit == 20
    assert ferry.sailings[0].way is Way.FORWARD
    assert ferry.sailings[0].weekdays == frozenset(range(6))
    assert ferry.sailings[1].departures == (time(10, 30),)
    assert tour.legs["ferry"].road.surface_class is SurfaceClass.WATER
    assert tour.riders[0].own_limits == {"gust": (11, None, None)}
    assert tour.units is UnitSystem.METRIC
    assert [day.date for day in tour.days] == [date(2027, 4, 3), date(2027, 4, 4)]
    assert tour.days[0].own_departure == time(8)
    assert tour.bases[0].nights == (date(2027, 4, 3),)


def test_a_section_differs_only_where_it_says_so(tour: Tour) -> None:
    saddle = tour.legs["saddle"]
    (grass,) = saddle.sections
    assert grass.road.surface_class is SurfaceClass.TRACK
    assert grass.road.exposure is Exposure.EXPOSED
    assert grass.road.width_m == saddle.road.width_m == 5.5
    assert saddle.road.exposure is Exposure.SHELTERED


def test_missing_minutes_are_estimated_from_the_kilometres(tour: Tour) -> None:
    saddle = tour.legs["saddle"]
    expected = estimate_leg_minutes(118, saddle.kind, saddle.road, saddle.sections, Speeds())
    assert saddle.riding_minutes == pytest.approx(expected)
    # Nine tenths at 55 km/h, a tenth at 25: by hand.
    assert saddle.riding_minutes == pytest.approx(106.2 / 55 * 60 + 11.8 / 25 * 60)


def test_tide_hours_are_local_on_both_sides_of_the_clock_change(tour: Tour) -> None:
    # New Zealand, 2027-04-04 03:00 NZDT (UTC+13) back to 02:00 NZST (UTC+12): IANA tz database.
    tides = tour.legs["saddle"].tides
    assert tides is not None
    assert tides.open_utc[0] == (
        datetime(2027, 4, 3, 8, 45, tzinfo=UTC), datetime(2027, 4, 3, 12, 45, tzinfo=UTC)
    )  # fmt: skip
    assert tides.open_utc[1][0] == datetime(2027, 4, 3, 21, 10, tzinfo=UTC)


def test_connectors_are_given_estimated_or_no_road() -> None:
    raw = spoilt((
        "riding_minutes = 80\n",
        'distance_km = 90\n[[connectors]]\nbetween = ["quay", "isle"]\nroad = false\n',
    ))  # fmt: skip
    by_road, water = parse_tour(raw).connectors
    assert (by_road.riding_minutes, by_road.estimated) == (90, True)
    assert (water.riding_minutes, water.estimated) == (None, False)


def test_the_demo_tour_is_sound_and_marked_invented() -> None:
    demo = load_tour(demo_file("tour.toml"))
    assert demo.invented
    assert len(demo.legs) == 25
    assert len(demo.days) == 5
    assert {kind.kind for leg in demo.legs.values() for kind in leg.halts} >= {"photo", "drone"}


def test_windows_line_ends_and_a_byte_order_mark_are_fine() -> None:
    raw = b"\xef\xbb\xbf" + SOUND.replace("\n", "\r\n").encode()
    assert parse_tour(raw) == parse_tour(SOUND.encode())


# ------------------------------------------------------------------ files that cannot be read


@pytest.mark.parametrize(
    ("raw", "told"),
    [
        (b"", "t.toml: the file is empty -- start from demo/tour.toml"),
        (b" \n\n", "t.toml: the file is empty -- start from demo/tour.toml"),
        (b'name = "T"\nzone = "\xff"\n', "t.toml, line 2: the file is not UTF-8 text"),
        (SOUND.encode("utf-16"), "t.toml, line 1: the file is not UTF-8 text"),
        (b'name = "T"\nzone "x"\n', "this is not TOML: Expected '=' after a key in a key/value "
                                    "pair (at line 2, column 6)"),
        (b"name = 1\nname = 2\n", "this is not TOML: Cannot overwrite a value (at line 2"),
        (b"[legs.a]\n[legs.a]\n", "this is not TOML: Cannot declare ('legs', 'a') twice"),
        (b"d = 2027-02-30\n", "this is not TOML: "),
        (b"n = " + b"9" * 5000, "this is not TOML: "),
        (b"a = " + b"[" * 100_000, "this is not TOML: "),
        (b"<html><body>404</body></html>", "this is not TOML: "),
    ],
)  # fmt: skip
def test_a_file_that_is_no_toml_is_told_in_one_line(raw: bytes, told: str) -> None:
    (fault,) = faults(raw)
    assert told in fault
    assert "\n" not in fault


def test_a_file_that_cannot_be_opened_is_told_in_one_line(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"nothing\.toml: the file cannot be read"):
        load_tour(tmp_path / "nothing.toml")
    with pytest.raises(InputError, match="the file cannot be read"):
        load_tour(tmp_path)
    big = tmp_path / "big.toml"
    with big.open("wb") as file:
        file.truncate(5_000_001)
    with pytest.raises(InputError, match="too large"):
        load_tour(big)


# --------------------------------------------------------------------------- one mistake each


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("distance_km = 118", "distance_km = 118\ndistnace_km = 118",
         "legs.saddle.distnace_km: unknown key 'distnace_km' -- did you mean 'distance_km'?"),
        ("latitude = -46.36", "latitude = -91",
         "places.inn.latitude: must be at least -90, is -91 -- correct the figure"),
        ("elevation_m = 8\n", "elevation_m = nan\n", "places.inn.elevation_m: must be a number"),
        ("distance_km = 82", "distance_km = -82",
         "legs.coast.distance_km: must be at least 0, is -82 -- correct the figure"),
        ("distance_km = 82", 'distance_km = "82 km"',
         "must be a number, is '82 km' -- write it without quotes and unit"),
        ("width_m = 5.5", "steepest_grade_percent = 80",
         "legs.saddle.steepest_grade_percent: must be at most 40, is 80 -- correct the figure"),
        ("distance_km = 82\nriding_minutes = 95", "distance_km = 82\nriding_minutes = -95",
         "legs.coast.riding_minutes: must be at least 0, is -95 -- correct the figure"),
        ('surface = "asphalt"', 'surface = "asfalt"',
         "legs.saddle.surface: surface 'asfalt' is not known -- did you mean 'asphalt'?"),
        ('kind = "coast lane"', 'kind = "coast"',
         "legs.coast.kind: 'coast' is not one of the words known here -- "
         "did you mean 'coast lane'?"),
        ('exposure = "exposed"', 'exposure = "high"',
         "legs.saddle.sections[1].exposure: 'high' is not one of the words known here -- "
         "known are exposed, open, sheltered"),
        ('weekdays = "mon-fri"', 'weekdays = "weekdays"',
         "legs.saddle.windows[1].weekdays: 'weekdays' are no weekdays -- "
         'write them like "mon-fri", "sat sun", "daily"'),
        ('opens = "07:30"', 'opens = "7.30"',
         "legs.saddle.windows[1].opens: '7.30' is no time of day -- write it like \"08:15\""),
        ('zone = "Pacific/Auckland"', 'zone = "Pacific/Aukland"',
         "zone: time zone 'Pacific/Aukland' is not known -- write it like \"Pacific/Auckland\""),
        ('zone = "Pacific/Auckland"', 'zone = "../../etc/passwd"',
         "zone: time zone '../../etc/passwd' is not known"),
        ("[days.2027-04-03]", "[days.2027-4-3]", "days.2027-4-3: '2027-4-3' is no date"),
        ("leader = true", 'leader = "yes"',
         "riders[1].leader: must be true or false, is 'yes' -- write it without quotes"),
        ("own_limits.gust", "own_limits.gusts",
         "riders[1].own_limits.gusts: unknown limit 'gusts' -- did you mean 'gust'?"),
        ('"2027-04-03 21:45"', '"03.04. 21:45"', "is no local date and time"),
        ("fraction = 0.3", "fraction = 30", "legs.saddle.halts[1].fraction: must be at most 1"),
        ("minutes = 7\n", 'minutes = 7\nhours = { opens = "noon", closes = "14:00" }\n',
         "legs.saddle.halts[1].hours.opens: 'noon' is no time of day"),
        ("minutes = 7\n", 'minutes = 7\nhours = { opens = "12:00" }\n',
         "'closes' is missing -- add closes = ..."),
        ('"foot"]', '"foto"]', "legs.saddle.via[1]: unknown place 'foto' -- did you mean 'foot'?"),
        ('before = ["coast"]', 'before = ["cost"]',
         "legs.saddle.before[1]: unknown leg 'cost' -- did you mean 'coast'?"),
        ('own_order = ["coast", "ferry"]', 'own_order = ["coast", "fery"]',
         "days.2027-04-04.own_order[2]: unknown leg 'fery' -- did you mean 'ferry'?"),
    ],
)  # fmt: skip
def test_each_mistake_is_told_with_line_place_and_remedy(old: str, new: str, told: str) -> None:
    raw = spoilt((old, new))
    (fault,) = faults(raw)
    assert told in fault
    assert fault.startswith(f"t.toml, line {line_of(raw, new) + new.rstrip().count(chr(10))}, ")


def test_hours_of_a_halt_are_its_own_or_where_it_is_always_made_a_window_of_its_leg() -> None:
    hours = 'hours = { opens = "12:00", closes = "14:00", weekdays = "sat sun" }\n'
    fixed = parse_tour(spoilt(("minutes = 7\n", f"minutes = 7\n{hours}")), "t.toml",
                       limit_names={"gust"}).legs["saddle"]  # fmt: skip
    free = parse_tour(spoilt(("minutes = 7\n", f"minutes = 7\noptional = true\n{hours}")),
                      "t.toml", limit_names={"gust"}).legs["saddle"]  # fmt: skip
    window = fixed.windows[-1]
    assert (window.name, window.fractions) == ("photo hours", (0.3,))
    assert (window.opens, window.closes) == (time(12), time(14))
    assert window.weekdays == frozenset({5, 6})
    assert fixed.halts[0].hours is None
    assert free.halts[0].hours == window
    assert window not in free.windows


@pytest.mark.parametrize("table", ["places", "legs", "days", "connectors", "riders", "bases"])
@pytest.mark.parametrize("value", ["3", "[]", "[1]", "{}", "{ a = 1 }", '"x"', "nan"])
def test_a_table_written_as_something_else_is_a_mistake(table: str, value: str) -> None:
    told = faults(f'{table} = {value}\nname = "T"\nzone = "UTC"\n'.encode())
    assert told
    assert all("\n" not in fault for fault in told)


def test_missing_keys_are_told_at_their_table() -> None:
    raw = spoilt(("latitude = -46.36\n", ""), ("distance_km = 124\n", ""), ('id = "R1"\n', ""))
    assert faults(raw) == [
        f"t.toml, line {line_of(raw, '[places.inn]')}, places.inn: 'latitude' is missing -- "
        "add latitude = ...",
        f"t.toml, line {line_of(raw, '[legs.valley]')}, legs.valley: 'distance_km' is missing -- "
        "add distance_km = ...",
        f"t.toml, line {line_of(raw, '[[riders]]')}, riders[1]: 'id' is missing -- add id = ...",
    ]


def test_a_file_with_nothing_in_it_lacks_everything() -> None:
    told = faults(b"# only a comment\n")
    assert [fault.split(" -- ")[0] for fault in told] == [
        "t.toml: 'name' is missing",
        "t.toml: 'zone' is missing",
        "t.toml, days: the tour has no days",
        "t.toml, riders: nobody rides",
    ]


# ------------------------------------------------------------------------ many mistakes at once


def test_of_very_many_mistakes_all_are_told_and_the_first_likened_to_what_is_known() -> None:
    keys = "".join(f"zone{number} = 1\n" for number in range(2 * MOST_LIKENED)).encode()
    told = [fault for fault in faults(keys + SOUND.encode()) if "unknown key" in fault]
    assert len(told) == 2 * MOST_LIKENED
    assert told[0].endswith("did you mean 'zone'?")
    assert told[-1].endswith("leave it out")


def test_mistakes_of_shape_and_of_fit_are_told_together() -> None:
    raw = spoilt(
        ("latitude = -46.36", "latitude = -91"),  # shape, in a place that is used everywhere
        ('"foot"]', '"foto"]'),  # fit, in a leg
        ("from_fraction = 0.4", 'from_fraction = "0.4"'),  # shape, in a section
        ('way = "reverse"', 'way = "backward"'),  # shape, in a list inside a list
        ('between = ["inn", "quay"]', 'between = ["in", "quay"]'),  # fit, in a connector
        ('own_order = ["coast", "ferry"]', 'own_order = ["coast", "coast"]'),  # fit, in a day
    )
    told = faults(raw)
    assert [fault.split(": ")[1].split(" -- ")[0] for fault in told] == [
        "must be at least -90, is -91",
        "unknown place 'foto'",
        "must be a number, is '0.4'",
        "'backward' is not one of the words known here",
        "unknown place 'in'",
        "leg 'coast' is there twice",
    ]


def test_what_a_faulty_table_speaks_of_is_told_in_the_same_go() -> None:
    """A leg of a wrong kind, a day of a wrong date: what they name is looked up all the same."""
    raw = spoilt(
        ('kind = "pass"', 'kind = "pas"'),
        ('before = ["coast"]', 'before = ["coast", "nowhere"]'),
        ("[days.2027-04-03]", "[days.2027-02-30]"),
        ('own_order = ["saddle"]', 'own_order = ["saddle", "valey", "saddle"]'),
    )
    found = faults(raw)
    told = "\n".join(found)
    assert "'pas' is not one of the words known here" in told
    assert "legs.saddle.before[2]: unknown leg 'nowhere'" in told
    assert "'2027-02-30' is no date" in told
    assert "days.2027-02-30.own_order[2]: unknown leg 'valey' -- did you mean 'valley'?" in told
    assert "days.2027-02-30.own_order[3]: leg 'saddle' is there twice" in told
    assert "unknown leg 'coast'" not in told
    assert len(found) == len(set(found))


def test_what_a_faulty_table_says_of_itself_is_told_in_the_same_go() -> None:
    """A section over another, a stand-in for itself, a road to where it begins."""
    over = "[[legs.saddle.sections]]\nfrom_fraction = 0.45\nto_fraction = 0.7\n"
    raw = spoilt(
        ('kind = "pass"', 'kind = "pas"'),
        ("[legs.saddle.stand_in]\n", over + "[legs.saddle.stand_in]\n"),
        ('leg = "valley"', 'leg = "saddle"'),
        ('between = ["inn", "quay"]\nriding_minutes = 80', 'between = ["inn", "inn"]\nkm = 80'),
    )
    told = "\n".join(faults(raw))
    assert "section 2 overlaps section 1" in told
    assert "legs.saddle.stand_in.leg: a leg cannot stand in for itself" in told
    assert "connectors[1].between: it joins a place with itself" in told


def test_mistakes_after_a_faulty_item_of_a_list_keep_their_own_place() -> None:
    raw = spoilt((
        "riding_minutes = 80\n",
        'riding_minutes = "80"\n[[connectors]]\nbetween = ["quay", "isl"]\nriding_minutes = 5\n',
    ))  # fmt: skip
    first, second = faults(raw)
    assert "connectors[1].riding_minutes: must be a number" in first
    line = line_of(raw, '"quay", "isl"')
    assert f"line {line}, connectors[2].between[2]: unknown place 'isl'" in second


def test_a_key_that_holds_a_line_s_end_is_told_in_one_line() -> None:
    told = faults(SOUND.encode() + b'["places"."two\\nlines"]\nname = "P"\n')
    assert all("\n" not in fault for fault in told)
    assert any("places.two\\nlines" in fault for fault in told)


def test_forty_mistakes_are_forty_lines() -> None:
    place = '[places.p{n}]\nname = "P"\nlatitude = 95\nlongitude = 200\nelevation_m = 1\nlat = 3\n'
    many = "".join(place.format(n=n) for n in range(12))
    raw = SOUND.encode() + many.encode() + b'[legs.x]\nname = ""\nkind = "ride"\nstart = 3\n'
    told = faults(raw)
    # 12 places with three mistakes each; the leg: three of value, two missing keys.
    assert len(told) == 41
    assert all(fault.startswith("t.toml, line ") for fault in told)
    lines = [int(fault.split("line ")[1].split(",")[0]) for fault in told]
    assert lines == sorted(lines)
    with pytest.raises(InputError) as caught:
        parse_tour(raw, "t.toml")
    assert str(caught.value).count("\n") == 40


# ------------------------------------------------------------- whatever is typed, no traceback

PIECES = ["", "0", "-1", "nan", '"x"', "[", "]", "=", "{}", "[]", "true", "1e400", '"""', "\n",
          "[legs]", "[[legs]]", "[days]\n", "2027-04-03", "\x00", "é", "inn", "[0]"]  # fmt: skip


def told_by(text: TomlText) -> list[str]:
    """Return the faults of a file, none if it is sound; anything but an InputError passes on."""
    try:
        tour_of(text, limit_names={"gust"})
    except InputError as error:
        return [str(fault) for fault in error.faults]
    return []


def told_of_bytes(raw: bytes) -> list[str]:
    try:
        return told_by(parse_toml(raw, "t.toml"))
    except InputError as error:
        return [str(fault) for fault in error.faults]


@given(st.data())
def test_a_mangled_file_never_raises_anything_but_an_input_error(data: st.DataObject) -> None:
    lines = SOUND.split("\n")
    for _ in range(data.draw(st.integers(1, 4))):
        row = data.draw(st.integers(0, len(lines) - 1))
        act = data.draw(st.sampled_from(["drop", "double", "value", "cut", "swap"]))
        key = lines[row].partition("=")[0]
        lines[row : row + 1] = {
            "drop": [],
            "double": [lines[row]] * 2,
            "value": [f"{key}= {data.draw(st.sampled_from(PIECES))}"],
            "cut": [lines[row][: data.draw(st.integers(0, 20))]],
            "swap": [lines[data.draw(st.integers(0, len(lines) - 1))]],
        }[act]
        lines = lines or [""]
    assert all("\n" not in fault for fault in told_of_bytes("\n".join(lines).encode()))


SCALARS = (
    st.integers(-(10**20), 10**20)
    | st.floats()
    | st.text(max_size=8)
    | st.booleans()
    | st.dates()
    | st.times()
    | st.datetimes()
)
VALUES = st.recursive(
    SCALARS,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=6), inner),
    max_leaves=6,
)


@given(st.data())
def test_any_value_at_any_key_is_sound_or_told(data: st.DataObject) -> None:
    text = parse_toml(SOUND.encode(), "t.toml")
    here: Any = text.table
    while True:
        key = data.draw(st.sampled_from(list(here) if isinstance(here, dict) else range(len(here))))
        inner = here[key]
        if not isinstance(inner, dict | list) or not inner or data.draw(st.booleans()):
            here[key] = data.draw(VALUES)
            break
        here = inner
    assert all("\n" not in fault for fault in told_by(text))


@given(st.sampled_from(sorted(SURFACES)))
def test_every_surface_of_the_model_may_be_written(surface: str) -> None:
    raw = spoilt(('surface = "asphalt"', f'surface = "{surface}"'))
    assert parse_tour(raw).legs["saddle"].road.surface == surface


@given(st.binary(max_size=200))
def test_bytes_at_random_are_told(raw: bytes) -> None:
    assert told_of_bytes(raw)
