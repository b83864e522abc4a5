"""Settings: `config/settings.toml`, overridden by the rider's own file and the environment.

Environment: `REPLANNER_CONFIG` names the folder of the rider's own `settings.toml` and
`limits.toml`, `REPLANNER_FORECAST_URL` the base address of the forecast service,
`REPLANNER_STATE` the address of the state database, `REPLANNER_CHAT_URL` the base address of the
chat service; `REPLANNER_TOKEN` holds the bot's token.
"""

import os
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import time
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
CHAT_VARIABLE = "REPLANNER_CHAT_URL"
TOKEN_VARIABLE = "REPLANNER_TOKEN"  # noqa: S105 - the name of the variable, no token

Price = Annotated[float, Field(ge=0)]
Speed = Annotated[float, Field(gt=0, le=130)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Service:
    """How the bot runs.

    Parameters
    ----------
    address : str
        Base address of the chat service.
    token_file : Path or None
        Holds the bot's token, where the environment does not.
    evening_at, quiet_from, quiet_to : datetime.time
        Hours of a new rider, by his own clock.
    workers : int
        Processes that make plans; 0: none but the bot's own.
    messages_per_second : float
    look_every_seconds : float
        How often it is looked what is due. [s]
    lease_seconds : float
        How long a message taken on is not taken on again. [s]
    status_port : int
        On this machine only; 0: none.
    """

    address: str
    token_file: Path | None
    evening_at: time
    quiet_from: time
    quiet_to: time
    workers: int
    messages_per_second: float
    look_every_seconds: float
    lease_seconds: float
    status_port: int


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
    service : Service
        How the bot runs.
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
    service: Service


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
    left_out_cost: Price
    new_leg_bonus: Price
    no_go_share: float = Field(ge=0, le=1)
    riding_quantile: float = Field(ge=0, le=1)
    other_day_cost: Price
    departure_cost: Price
    wanted_margin_minutes: Price
    margin_cost: Price
    no_go_road_cost: Price
    worth_waiting_minutes: Price
    break_after_minutes: float = Field(ge=30, le=1440)
    break_minutes: float = Field(gt=0, le=60)


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


class _Service(Table):
    address: Annotated[str, AfterValidator(_web_address)]
    token_file: str
    evening_at: time
    quiet_from: time
    quiet_to: time
    workers: int = Field(ge=0, le=64)
    messages_per_second: float = Field(gt=0, le=1000)
    look_every_seconds: float = Field(gt=0, le=60)
    lease_seconds: float = Field(gt=0, le=3600)
    status_port: int = Field(ge=0, le=65535)


class _Document(Table):
    language: str = Field(min_length=2)
    planning: _Planning
    speeds: _Speeds
    connectors: _Connectors
    forecast: _Forecast
    state: _State
    service: _Service


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
        forecast_address=_address(FORECAST_VARIABLE, environ) or forecast.address,
        timeout_seconds=forecast.timeout_seconds,
        retries=forecast.retries,
        cache_directory=Path(forecast.cache_directory).expanduser()
        if forecast.cache_directory
        else platformdirs.user_cache_path("replanner"),
        cache_hours=forecast.cache_hours,
        state_address=environ.get(STATE_VARIABLE) or document.state.address or _state_address(),
        service=_service(document.service, environ),
    )


def read_token(service: Service, environ: Mapping[str, str] | None = None) -> str:
    """Return the bot's token, from the environment or from its file; it is never printed.

    Raises
    ------
    InputError
        If there is none.
    """
    environ = os.environ if environ is None else environ
    token = environ.get(TOKEN_VARIABLE, "").strip()
    if token:
        return token
    if service.token_file is None:
        raise InputError(
            "the bot has no token",
            where=f"environment variable {TOKEN_VARIABLE}, or token_file in settings.toml",
            mend="put the token there; never on the command line",
        )
    try:
        token = service.token_file.read_text(encoding="utf-8").strip()
    except (OSError, UnicodeDecodeError) as error:
        raise InputError(
            f"the token cannot be read: {type(error).__name__}",
            where=str(service.token_file),
            mend="write the token into it, and nothing else",
        ) from error
    if not token:
        raise InputError("the file is empty", where=str(service.token_file), mend="write the token")
    return token


def _service(table: _Service, environ: Mapping[str, str]) -> Service:
    values = table.model_dump()
    return Service(
        **values
        | {
            "token_file": Path(table.token_file).expanduser() if table.token_file else None,
            "address": _address(CHAT_VARIABLE, environ) or table.address,
        }
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


def _address(variable: str, environ: Mapping[str, str]) -> str | None:
    address = environ.get(variable)
    if address and not address.startswith(("http://", "https://")):
        raise InputError(
            f"{address!r} is no web address",
            where=f"environment variable {variable}",
            mend="begin it with https:// or http://",
        )
    return address


def _state_address() -> str:
    return f"sqlite:///{platformdirs.user_data_path('replanner') / 'replanner.sqlite'}"
