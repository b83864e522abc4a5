"""`replanner check` on sound and broken tour files."""

from pathlib import Path

import pytest

from replanner.files.resources import demo_file
from tests.stories.house import DATA, Machine, one_line, strict_json

COAST = DATA / "tour_recorded_coast.toml"


@pytest.fixture
def machine(tmp_path: Path) -> Machine:
    return Machine(tmp_path / "rider", "http://127.0.0.1:9")


@pytest.mark.parametrize(
    ("tour", "days"),
    [
        (demo_file("tour.toml"), 5),
        (DATA / "tour_two_bays.toml", 2),
        (COAST, 3),
        (DATA / "tour_recorded_lake.toml", 4),
        (DATA / "tour_recorded_storm.toml", 4),
    ],
    ids=lambda value: value.stem if isinstance(value, Path) else "",
)
def test_a_sound_tour_is_told_day_by_day(machine: Machine, tour: Path, days: int) -> None:
    before = tour.read_bytes()
    text = machine.run("check", str(tour))
    assert (text.exit_code, text.stderr) == (0, "")
    answer = machine.run("check", str(tour), "--format", "json")
    assert (answer.exit_code, answer.stderr) == (0, "")
    sheets = strict_json(answer.stdout)
    assert len(sheets) == days
    for sheet in sheets:
        assert sheet["date"]
        assert sheet["riding_minutes"] > 0
    assert tour.read_bytes() == before
    assert not machine.state.exists()


def test_the_hours_of_a_day_add_up(machine: Machine) -> None:
    """90 + 60 + 100 minutes of riding: the sums of the tour file, worked out by hand."""
    answer = machine.run("check", str(COAST), "--format", "json")
    (calm,) = [sheet for sheet in strict_json(answer.stdout) if sheet["date"] == "2025-10-30"]
    assert calm["riding_minutes"] == pytest.approx(250)


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (b"", "empty"),
        (b"  \n\n", "empty"),
        (b'name = "B\xe4y"\n', "UTF-8"),
        ('name = "Bay"\n'.encode("utf-16"), "UTF-8"),
        (b"name = Windy bay\n", "line 1"),
        (b'name = "a"\n\nname = "b"\n', "line 3"),
        (b"\x00\x01\x02\x03", ""),
        (b"PK\x03\x04" + b"\xff" * 200, "UTF-8"),
        (b'{"name": "json"}', "line 1"),
    ],
    ids=[
        "empty", "blank", "latin-1", "utf-16", "no toml", "twice", "bytes", "zip", "json",
    ],
)  # fmt: skip
def test_what_is_no_tour_file_is_one_line(
    machine: Machine, tmp_path: Path, content: bytes, told: str
) -> None:
    tour = tmp_path / "tour.toml"
    tour.write_bytes(content)
    for command in ("check", "plan", "chat"):
        result = machine.run(command, str(tour))
        assert (result.exit_code, result.stdout) == (2, "")
        line = one_line(result.stderr)
        assert line.startswith(str(tour))
        assert told in line
        assert " -- " in line  # how to mend it
    assert tour.read_bytes() == content
    assert not machine.state.exists()


def test_a_missing_file_and_a_folder_are_one_line(machine: Machine, tmp_path: Path) -> None:
    for path in (tmp_path / "gone.toml", tmp_path, tmp_path / "no" / "folder.toml"):
        for command in ("check", "plan", "chat", "solve"):
            result = machine.run(command, str(path))
            assert (result.exit_code, result.stdout) == (2, "")
            assert str(path) in one_line(result.stderr)


def with_forty_mistakes() -> tuple[str, list[str]]:
    """Return the coast's tour with ten more legs of four mistakes each, and where they are."""
    tour = COAST.read_text(encoding="utf-8")
    where = []
    for number in range(10):
        leg = f"wrong{number}"
        tour += (
            f'\n[legs.{leg}]\nname = "W"\nkind = "lop"\nstart = "base"\nend = "base"\n'
            f'distance_km = -5\nriding_minutes = "an hour"\nwidht_m = 3.0\n'
        )
        where += [f"legs.{leg}.{key}" for key in ("kind", "distance_km", "riding_minutes")]
        where.append(f"legs.{leg}.widht_m")
    return tour, where


def test_forty_mistakes_are_forty_lines(machine: Machine, tmp_path: Path) -> None:
    text, where = with_forty_mistakes()
    tour = tmp_path / "tour.toml"
    tour.write_text(text, encoding="utf-8")
    result = machine.run("check", str(tour))
    assert (result.exit_code, result.stdout) == (2, "")
    lines = result.stderr.splitlines()
    assert len(lines) == len(where) == 40
    for path in where:
        (line,) = [line for line in lines if f" {path}:" in line]
        assert line.startswith(f"{tour}, line ")
        number = int(line.removeprefix(f"{tour}, line ").partition(",")[0])
        assert text.splitlines()[number - 1].startswith(path.rpartition(".")[2])
        assert " -- " in line
    nearest = [line for line in lines if "widht_m" in line]
    assert all("'width_m'" in line for line in nearest)
    loops = [line for line in lines if ".kind:" in line]
    assert all("loop" in line for line in loops)


def test_mistakes_between_parts_are_told_together(machine: Machine, tmp_path: Path) -> None:
    """A place, a leg and a stand-in nobody knows, and a leg twice on a day: told at once."""
    text = (
        COAST.read_text(encoding="utf-8")
        .replace('via = ["mill"]', 'via = ["mil"]')
        .replace('leg = "low_loop"', 'leg = "low_lop"')
        .replace(
            'own_order = ["mill_lane", "ford_spur", "head_loop"]',
            'own_order = ["mill_lane", "ford_spr", "mill_lane"]',
        )
    )
    tour = tmp_path / "tour.toml"
    tour.write_text(text, encoding="utf-8")
    result = machine.run("check", str(tour))
    assert result.exit_code == 2
    for wrong, nearest in (("mil", "mill"), ("low_lop", "low_loop"), ("ford_spr", "ford_spur")):
        line = next(line for line in result.stderr.splitlines() if f"'{wrong}'" in line)
        assert f"'{nearest}'" in line
    assert "Traceback" not in result.stderr


def test_json_is_no_excuse_for_a_broken_tour(machine: Machine, tmp_path: Path) -> None:
    tour = tmp_path / "tour.toml"
    tour.write_text('name = "x"\n', encoding="utf-8")
    result = machine.run("check", str(tour), "--format", "json")
    assert (result.exit_code, result.stdout) == (2, "")
    assert result.stderr
