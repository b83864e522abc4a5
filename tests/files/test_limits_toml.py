from pathlib import Path

import pytest

from replanner.errors import InputError
from replanner.files.limits_toml import load_limits, overlay_limits, read_limits
from replanner.hazards.limits import Limits

SOUND = """
[limits.gust]
unit = "m/s"
clear = 8.0
caution = 13.4
avoid = 17.9
no_go = 20.6
source = "invented for this test"

[limits.visibility]
unit = "m"
clear = 5000
caution = 1000
avoid = 200
source = "invented for this test"

[figures.wet]
lingers_hours = { value = 2, source = "assumption" }
"""


def written(folder: Path, text: str, name: str = "limits.toml") -> Path:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


@pytest.fixture
def limits(tmp_path: Path) -> Limits:
    return read_limits(written(tmp_path, SOUND))


def test_limits_and_figures_are_read(limits: Limits) -> None:
    assert limits["gust"].no_go == 20.6
    assert limits["gust"].rising
    assert limits["visibility"].no_go is None
    assert not limits["visibility"].rising
    assert limits["visibility"].level(200) == 3
    assert limits.figure("wet.lingers_hours") == 2


def test_the_shipped_limits_are_sound_and_a_folder_of_ones_own_lies_on_top(tmp_path: Path) -> None:
    environ = {"REPLANNER_CONFIG": str(tmp_path)}
    shipped = load_limits(environ)
    # Maryland bridge wind protocol: motorcycles cautioned at gusts over 30 mph (published).
    assert shipped["gust"].caution == pytest.approx(30 * 1609.344 / 3600, abs=0.05)
    assert all(limit.source for limit in shipped.limits.values())
    written(tmp_path, "[limits.gust]\ncaution = 10\n")
    assert load_limits(environ)["gust"].caution == 10


def test_the_own_file_changes_only_what_it_gives(limits: Limits, tmp_path: Path) -> None:
    own = written(tmp_path, "[limits.gust]\ncaution = 11\n[figures.wet]\n"
                            "lingers_hours = { value = 3 }\n", "own.toml")  # fmt: skip
    mine = overlay_limits(limits, own)
    assert (mine["gust"].caution, mine["gust"].avoid) == (11, 17.9)
    assert mine["gust"].source == "the rider's own"
    assert mine["visibility"] == limits["visibility"]
    assert mine.figure("wet.lingers_hours") == 3
    assert limits["gust"].caution == 13.4


@pytest.mark.parametrize(
    ("own", "told"),
    [
        ("[limits.gusts]\ncaution = 1\n", "line 1, limits.gusts: unknown limit 'gusts' -- "
                                          "did you mean 'gust'?"),
        ("[limits.gust]\ncaution = 30\n", "line 1, limits.gust: the steps are not in order: "
                                          "clear 8, caution 30, avoid 17.9, no_go 20.6"),
        ("[limits.gust]\ncautoin = 3\n", "line 2, limits.gust.cautoin: unknown key 'cautoin' -- "
                                         "did you mean 'caution'?"),
        ("[figures.wet]\nlinger = { value = 3 }\n", "line 2, figures.wet.linger: "
                                                    "unknown figure 'wet.linger'"),
    ],
)  # fmt: skip
def test_mistakes_of_the_own_file_are_told(
    limits: Limits, tmp_path: Path, own: str, told: str
) -> None:
    with pytest.raises(InputError) as caught:
        overlay_limits(limits, written(tmp_path, own, "own.toml"))
    assert told in str(caught.value)


def test_every_mistake_of_a_whole_file_is_told(tmp_path: Path) -> None:
    text = '[limits.a]\nunit = "m"\nclear = 1\n[limits.b]\nclear = "x"\nunit = 3\nsource = "s"\n'
    with pytest.raises(InputError) as caught:
        read_limits(written(tmp_path, text))
    lines = str(caught.value).splitlines()
    assert len(lines) == 3
    assert "line 1, limits.a: 'source' is missing" in lines[0]
