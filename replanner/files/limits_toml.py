"""`config/limits.toml`: each hazard limit with its source; the rider's own file lies on top."""

import os
from collections.abc import Mapping
from itertools import pairwise
from pathlib import Path

from pydantic import Field, ValidationError

from replanner.errors import Fault, InputError, nearest
from replanner.files.resources import config_file
from replanner.files.settings import own_file
from replanner.files.shape import Table, faults_of
from replanner.files.toml_text import TomlText, read_toml
from replanner.hazards.limits import Limit, Limits

OWN_SOURCE = "the rider's own"
STEPS = ("clear", "caution", "avoid", "no_go")


class _Limit(Table):
    unit: str = Field(min_length=1)
    clear: float
    caution: float | None = None
    avoid: float | None = None
    no_go: float | None = None
    source: str = Field(min_length=1)


class _Figure(Table):
    value: float
    source: str = Field(min_length=1)


class _Document(Table):
    limits: dict[str, _Limit] = Field(default_factory=dict)
    figures: dict[str, dict[str, _Figure]] = Field(default_factory=dict)


class _OwnLimit(Table):
    clear: float | None = None
    caution: float | None = None
    avoid: float | None = None
    no_go: float | None = None
    source: str = Field(OWN_SOURCE, min_length=1)


class _OwnFigure(Table):
    value: float
    source: str = Field(OWN_SOURCE, min_length=1)


class _OwnDocument(Table):
    limits: dict[str, _OwnLimit] = Field(default_factory=dict)
    figures: dict[str, dict[str, _OwnFigure]] = Field(default_factory=dict)


def load_limits(environ: Mapping[str, str] | None = None) -> Limits:
    """Read the limits, the rider's own `limits.toml` over the shipped ones.

    Parameters
    ----------
    environ : mapping of str to str, optional
        The environment; the process's own by default.

    Raises
    ------
    InputError
        With every mistake of a file.
    """
    limits = read_limits(config_file("limits.toml"))
    own = own_file("limits.toml", os.environ if environ is None else environ)
    return limits if own is None else overlay_limits(limits, own)


def read_limits(path: Path) -> Limits:
    """Read a whole limits file; raises InputError with every mistake found."""
    text = read_toml(path)
    try:
        document = _Document.model_validate(text.table)
    except ValidationError as error:
        raise InputError.of(tuple(faults_of(error, text, _Document))) from error
    limits = {name: Limit(name=name, **item.model_dump()) for name, item in document.limits.items()}
    _require_order(limits, text)
    figures = {
        f"{group}.{key}": figure.value
        for group, table in document.figures.items()
        for key, figure in table.items()
    }
    return Limits(limits, figures)


def overlay_limits(limits: Limits, path: Path) -> Limits:
    """Lay a rider's own file over the limits: only the keys it gives change.

    Raises
    ------
    InputError
        With every mistake found: an unknown limit or figure, or steps no longer in order.
    """
    text = read_toml(path)
    try:
        document = _OwnDocument.model_validate(text.table)
    except ValidationError as error:
        raise InputError.of(tuple(faults_of(error, text, _OwnDocument))) from error
    faults: list[Fault] = []
    found = dict(limits.limits)
    for name, own in document.limits.items():
        if name not in found:
            where = text.where(("limits", name))
            faults.append(Fault(where, f"unknown limit {name!r}", nearest(name, limits.limits)))
            continue
        found[name] = Limit(
            name=name,
            unit=found[name].unit,
            clear=found[name].clear if own.clear is None else own.clear,
            caution=found[name].caution if own.caution is None else own.caution,
            avoid=found[name].avoid if own.avoid is None else own.avoid,
            no_go=found[name].no_go if own.no_go is None else own.no_go,
            source=own.source,
        )
    figures = dict(limits.figures)
    for group, table in document.figures.items():
        for key, figure in table.items():
            name = f"{group}.{key}"
            if name not in figures:
                where = text.where(("figures", group, key))
                mend = nearest(name, limits.figures)
                faults.append(Fault(where, f"unknown figure {name!r}", mend))
            figures[name] = figure.value
    if faults:
        raise InputError.of(tuple(faults))
    _require_order({name: found[name] for name in document.limits}, text)
    return Limits(found, figures)


def _require_order(limits: Mapping[str, Limit], text: TomlText) -> None:
    """Refuse limits whose steps neither rise nor fall all the way from `clear` on."""
    faults = []
    for name, limit in limits.items():
        steps = (limit.clear, limit.caution, limit.avoid, limit.no_go)
        given = [step for step in steps if step is not None]
        rises = all(low < high for low, high in pairwise(given))
        falls = all(low > high for low, high in pairwise(given))
        if not (rises or falls):
            told = ", ".join(
                f"{word} {step:g}"
                for word, step in zip(STEPS, steps, strict=True)
                if step is not None
            )
            faults.append(
                Fault(
                    text.where(("limits", name)),
                    f"the steps are not in order: {told}",
                    "let them rise or fall all the way from clear to no_go",
                )
            )
    if faults:
        raise InputError.of(tuple(faults))
