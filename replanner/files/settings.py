"""Settings: `config/settings.toml`, overridden by the rider's own file and the environment.

Environment: `REPLANNER_CONFIG` names the folder of the rider's own `settings.toml` and
`limits.toml`, `REPLANNER_FORECAST_URL` the base address of the forecast service,
`REPLANNER_STATE` the address of the state database.
"""

import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any

import platformdirs
from pydantic import AfterValidator, Field, ValidationError

from replanner.errors import InputError
from replanner.files.resources import config_file
from replanner.files.shape import Table, faults_of, plain_error
from replanner.files.toml_text import read_toml
from replanner.planning.rules import Rules
from replanner.trip.timing import Speeds

CONFIG_VARIABLE = "REPLANNER_CONFIG"
FORECAST_VARIABLE = "REPLANNER_FORECAST_URL"
STATE_VARIABLE = "REPLANNER_STATE"

Price = Annotated[float, Field(ge=0)]
Speed = Annotated[float, Field(gt=0, le=130)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """How replanner runs.

    Parameters
    ----------
    language : str
    rules : Rules
    speeds : Speeds
    detour_factor : float
        Road over shortest line, for estimated connectors. [1]
    forecast_address : str
        Base address of the forecast service.
    timeout_seconds : float
    retries : int
    cache_directory : Path
    cache_hours : float
        How long an answer counts as fresh. [h]
    state_address : str
        Database address as SQLAlchemy writes it.
    """

    language: str
    rules: Rules
    speeds: Speeds
    detour_factor: float
    forecast_address: str
    timeout_seconds: float
    retries: int
    cache_directory: Path
    cache_hours: float
    state_address: str


class _Planning(Table):
    slot_minutes: int = Field(ge=1, le=60)
    connector_cost: Price
    riding_cost: Price
    waiting_cost: Price
    level_prices: list[Price] = Field(min_length=4, max_length=4)
    wished_before_dusk_minutes: Price
    late_cost: Price
    dark_cost: Price
    latest_after_dusk_minutes: Price
    order_cost: Price
    new_leg_bonus: Price
    no_go_share: float = Field(ge=0, le=1)
    riding_quantile: float = Field(ge=0, le=1)
    other_day_cost: Price
    departure_cost: Price
    wanted_margin_minutes: Price
    margin_cost: Price


class _Speeds(Table):
    transit: Speed
    pass_road: Speed
    loop: Speed
    coast_lane: Speed
    spur: Speed
    connector: Speed
    gravel_at_most: Speed
    track_at_most: Speed
    steep_percent: float = Field(ge=0, le=40)
    steep_factor: float = Field(ge=1, le=5)


class _Connectors(Table):
    detour_factor: float = Field(ge=1, le=5)


def _web_address(address: str) -> str:
    if not address.startswith(("http://", "https://")):
        raise plain_error(f"{address!r} is no web address", "begin it with https:// or http://")
    return address


class _Forecast(Table):
    address: Annotated[str, AfterValidator(_web_address)]
    timeout_seconds: float = Field(gt=0)
    retries: int = Field(ge=0, le=10)
    cache_hours: float = Field(ge=0)
    cache_directory: str


class _State(Table):
    address: str


class _Document(Table):
    language: str = Field(min_length=2)
    planning: _Planning
    speeds: _Speeds
    connectors: _Connectors
    forecast: _Forecast
    state: _State


def own_file(name: str, environ: Mapping[str, str]) -> Path | None:
    """Return the rider's own file of that name; None if there is none.

    Raises
    ------
    InputError
        If `REPLANNER_CONFIG` names a folder that does not exist.
    """
    named = environ.get(CONFIG_VARIABLE)
    folder = Path(named) if named else platformdirs.user_config_path("replanner")
    if named and not folder.is_dir():
        raise InputError(
            f"the folder {named} does not exist",
            where=f"environment variable {CONFIG_VARIABLE}",
            mend="make it, name another, or unset the variable",
        )
    path = folder / name
    return path if path.is_file() else None


def load_settings(environ: Mapping[str, str] | None = None) -> Settings:
    """Read the settings.

    Parameters
    ----------
    environ : mapping of str to str, optional
        The environment; the process's own by default.

    Raises
    ------
    InputError
        With every mistake of the rider's own file.
    """
    environ = os.environ if environ is None else environ
    document = _read(config_file("settings.toml"), {})
    own = own_file("settings.toml", environ)
    if own is not None:
        document = _read(own, document.model_dump())
    forecast = document.forecast
    return Settings(
        language=document.language,
        rules=Rules(
            **document.planning.model_dump(exclude={"level_prices"}),
            level_prices=_four(document.planning.level_prices),
        ),
        speeds=Speeds(**document.speeds.model_dump()),
        detour_factor=document.connectors.detour_factor,
        forecast_address=_forecast_address(environ) or forecast.address,
        timeout_seconds=forecast.timeout_seconds,
        retries=forecast.retries,
        cache_directory=Path(forecast.cache_directory).expanduser()
        if forecast.cache_directory
        else platformdirs.user_cache_path("replanner"),
        cache_hours=forecast.cache_hours,
        state_address=environ.get(STATE_VARIABLE) or document.state.address or _state_address(),
    )


def _read(path: Path, below: dict[str, Any]) -> _Document:
    """Lay a file over what lies below and check it; mistakes are told in that file's words."""
    text = read_toml(path)
    try:
        return _Document.model_validate(_overlaid(below, text.table))
    except ValidationError as error:
        raise InputError.of(tuple(faults_of(error, text, _Document))) from error


def _overlaid(below: dict[str, Any], above: dict[str, Any]) -> dict[str, Any]:
    laid = dict(below)
    for key, value in above.items():
        under = laid.get(key)
        both_tables = isinstance(under, dict) and isinstance(value, dict)
        laid[key] = _overlaid(under, value) if both_tables and under is not None else value
    return laid


def _four(prices: list[float]) -> tuple[float, float, float, float]:
    first, second, third, fourth = prices
    return first, second, third, fourth


def _forecast_address(environ: Mapping[str, str]) -> str | None:
    address = environ.get(FORECAST_VARIABLE)
    if address and not address.startswith(("http://", "https://")):
        raise InputError(
            f"{address!r} is no web address",
            where=f"environment variable {FORECAST_VARIABLE}",
            mend="begin it with https:// or http://",
        )
    return address


def _state_address() -> str:
    return f"sqlite:///{platformdirs.user_data_path('replanner') / 'replanner.sqlite'}"
