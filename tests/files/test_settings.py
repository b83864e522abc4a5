from pathlib import Path

import pytest

from replanner.errors import InputError
from replanner.files.settings import load_settings
from replanner.planning.rules import Rules
from replanner.trip.timing import Speeds


def own(folder: Path, text: str) -> dict[str, str]:
    (folder / "settings.toml").write_text(text, encoding="utf-8")
    return {"REPLANNER_CONFIG": str(folder)}


def refused(folder: Path, text: str) -> list[str]:
    with pytest.raises(InputError) as caught:
        load_settings(own(folder, text))
    return [str(fault) for fault in caught.value.faults]


def test_the_shipped_file_and_the_defaults_in_code_are_one(tmp_path: Path) -> None:
    settings = load_settings({"REPLANNER_CONFIG": str(tmp_path)})
    assert settings.rules == Rules()
    assert settings.speeds == Speeds()
    assert settings.forecast_address.startswith("https://")
    assert settings.state_address.startswith("sqlite:///")


def test_own_keys_override_and_the_rest_stays(tmp_path: Path) -> None:
    text = '[planning]\nlate_cost = 9\n[forecast]\ncache_directory = "/tmp/x"\n'
    settings = load_settings(own(tmp_path, text))
    assert settings.rules == Rules(late_cost=9.0)
    assert settings.cache_directory == Path("/tmp/x")  # noqa: S108 - a name, nothing is written
    assert settings.speeds == Speeds()


def test_the_environment_beats_the_file(tmp_path: Path) -> None:
    environ = own(tmp_path, '[state]\naddress = "sqlite:///file"\n')
    environ |= {
        "REPLANNER_FORECAST_URL": "http://127.0.0.1:9/v1",
        "REPLANNER_STATE": "sqlite:///env",
    }
    settings = load_settings(environ)
    assert settings.forecast_address == "http://127.0.0.1:9/v1"
    assert settings.state_address == "sqlite:///env"


def test_every_mistake_of_the_own_file_is_told(tmp_path: Path) -> None:
    told = refused(
        tmp_path,
        "languag = 'en'\n[planning]\nlate_cots = 1\nslot_minutes = 0\nno_go_share = 1.5\n"
        "level_prices = [1, 2]\n[speeds]\nloop = '46'\n[forecast]\naddress = 'example.org'\n",
    )
    name = str(tmp_path / "settings.toml")
    assert sorted(told) == sorted(
        [
            f"{name}, line 1, languag: unknown key 'languag' -- did you mean 'language'?",
            f"{name}, line 3, planning.late_cots: unknown key 'late_cots' -- "
            "did you mean 'late_cost'?",
            f"{name}, line 4, planning.slot_minutes: must be at least 1, is 0 -- "
            "correct the figure",
            f"{name}, line 5, planning.no_go_share: must be at most 1, is 1.5 -- "
            "correct the figure",
            f"{name}, line 6, planning.level_prices: must hold at least 4, holds 2 -- "
            "correct the list",
            f"{name}, line 8, speeds.loop: must be a number, is '46' -- "
            "write it without quotes and unit",
            f"{name}, line 10, forecast.address: 'example.org' is no web address -- "
            "begin it with https:// or http://",
        ]
    )


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("planning = 3\n", "line 1, planning: must be a table, is 3"),
        ("[planning]\nlate_cost = nan\n", "line 2, planning.late_cost: must be a number with an"),
        ("[planning]\nlate_cost = true\n", "line 2, planning.late_cost: must be a number, is True"),
        ("[planning\n", "this is not TOML: Expected ']'"),
    ],
)
def test_odd_own_files_are_one_line_each(tmp_path: Path, text: str, what: str) -> None:
    (told,) = refused(tmp_path, text)
    assert what in told
    assert "\n" not in told


def test_a_named_folder_that_is_missing_is_told() -> None:
    with pytest.raises(InputError, match="REPLANNER_CONFIG: the folder /nowhere does not exist"):
        load_settings({"REPLANNER_CONFIG": "/nowhere"})


def test_an_address_in_the_environment_is_checked(tmp_path: Path) -> None:
    environ = {"REPLANNER_CONFIG": str(tmp_path), "REPLANNER_FORECAST_URL": "example.org"}
    with pytest.raises(InputError, match=r"URL: 'example\.org' is no web address"):
        load_settings(environ)
