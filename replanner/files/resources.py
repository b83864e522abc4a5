"""Where the project's own files are: in a checkout beside the package, installed inside it."""

from pathlib import Path

import replanner
from replanner.errors import InputError

_PACKAGE = Path(replanner.__file__).parent


def config_file(name: str) -> Path:
    """Return a file of `config/`, e.g. ``settings.toml``; raises InputError if it is missing."""
    return _find("config", name)


def demo_file(name: str) -> Path:
    """Return a file of `demo/`, e.g. ``tour.toml``; raises InputError if it is missing."""
    return _find("demo", name)


def _find(folder: str, name: str) -> Path:
    places = [_PACKAGE / folder / name]  # put there by the build, see pyproject.toml
    if (_PACKAGE.parent / "pyproject.toml").is_file():
        places.append(_PACKAGE.parent / folder / name)
    for path in places:
        if path.is_file():
            return path
    raise InputError(
        f"{folder}/{name} is missing from the installation",
        where=str(_PACKAGE),
        mend="install replanner again",
    )
