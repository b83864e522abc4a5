import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from replanner.errors import InputError
from replanner.files.resources import config_file, demo_file

ROOT = Path(__file__).parents[2]


def test_a_checkout_finds_both_folders() -> None:
    assert config_file("settings.toml").read_text(encoding="utf-8").startswith("#")
    assert demo_file("tour.toml").is_file()


def test_a_missing_file_is_told_in_one_line() -> None:
    with pytest.raises(InputError, match=r"config/nothing\.toml is missing from the installation"):
        config_file("nothing.toml")


def test_an_installed_copy_carries_both_folders(tmp_path: Path) -> None:
    """Build a wheel without network, unpack it, and look from there, away from the checkout."""
    pytest.importorskip("hatchling", reason="building a wheel needs hatchling, a test extra")
    build = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(tmp_path)]
    subprocess.run(build, cwd=ROOT, check=True, capture_output=True)  # noqa: S603 - our own words
    (wheel,) = tmp_path.glob("*.whl")
    installed = tmp_path / "installed"
    zipfile.ZipFile(wheel).extractall(installed)
    look = (
        f"import sys; sys.path.insert(0, {str(installed)!r}); "
        "from replanner.files.resources import config_file, demo_file; "
        "print(config_file('settings.toml')); print(demo_file('tour.toml'))"
    )
    asked = subprocess.run(  # noqa: S603 - our own words
        [sys.executable, "-c", look], cwd=tmp_path, check=True, capture_output=True, text=True
    )
    assert asked.stdout.split() == [
        str(installed / "replanner/config/settings.toml"),
        str(installed / "replanner/demo/tour.toml"),
    ]
