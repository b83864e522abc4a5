"""Shapes of the files a rider writes: strict pydantic tables, their mistakes in plain words."""

from typing import Any, get_args, get_origin

from pydantic import BaseModel, ConfigDict, ValidationError
from pydantic_core import ErrorDetails, PydanticCustomError

from replanner.errors import Fault, nearest
from replanner.files.toml_text import KeyPath, TomlText

LONGEST_VALUE_TOLD = 40
MOST_LIKENED = 200
"""Of so many mistakes it is looked up what may have been meant; nobody reads the others' words."""


class Table(BaseModel):
    """A table whose unknown keys, wrong types and endless numbers are mistakes."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, allow_inf_nan=False)


def plain_error(what: str, mend: str) -> PydanticCustomError:
    """Return an error for a validator to raise: what is wrong and how to mend it."""
    return PydanticCustomError("plain", "{what}", {"what": what, "mend": mend})


def key_path(error: ErrorDetails) -> KeyPath:
    """Return the path of an error inside the file."""
    return tuple(part for part in error["loc"] if part != "[key]")


def faults_of(error: ValidationError, text: TomlText, shape: type[BaseModel]) -> list[Fault]:
    """Tell every mistake pydantic found in a rider's words, with file, line and key path."""
    return [
        _fault(detail, text, shape, liken=number < MOST_LIKENED)
        for number, detail in enumerate(error.errors(include_url=False))
    ]


def _fault(error: ErrorDetails, text: TomlText, shape: type[BaseModel], *, liken: bool) -> Fault:
    path = key_path(error)
    where = text.where(path)
    name = str(path[-1]) if path else ""
    if error["type"] == "missing":
        return Fault(
            text.where(path[:-1]) or text.name, f"{name!r} is missing", f"add {name} = ..."
        )
    if error["type"] == "extra_forbidden":
        mend = nearest(name, _keys_at(shape, path[:-1])) if liken else "leave it out"
        return Fault(where, f"unknown key {name!r}", mend)
    what, mend = _told(error)
    return Fault(where, what, mend)


def _told(error: ErrorDetails) -> tuple[str, str]:
    """Return what is wrong with a value and how to mend it."""
    context = error.get("ctx", {})
    given = _short(error["input"])
    kind = error["type"]
    if kind == "plain":
        return context["what"], context["mend"]
    if kind in {"enum", "literal_error"}:
        names = [part.strip(" '") for part in context["expected"].replace(" or ", ",").split(",")]
        return f"{given} is not one of the words known here", nearest(str(error["input"]), names)
    limits = {
        "greater_than_equal": ("must be at least", "ge"),
        "greater_than": ("must be more than", "gt"),
        "less_than_equal": ("must be at most", "le"),
        "less_than": ("must be less than", "lt"),
    }
    if kind in limits:
        words, key = limits[kind]
        return f"{words} {context[key]:g}, is {given}", "correct the figure"
    wanted = {
        "float_type": ("a number", "write it without quotes and unit"),
        "int_type": ("a whole number", "write it without quotes, point and unit"),
        "finite_number": ("a number with an end", "leave the key out if it is not known"),
        "string_type": ("text", "put it in quotes"),
        "string_too_short": ("text that is not empty", "write something between the quotes"),
        "bool_type": ("true or false", "write it without quotes"),
        "date_type": ("a date", "write it like 2027-04-01, without quotes"),
        "list_type": ("a list", "put it in square brackets"),
        "dict_type": ("a table", "write it as a [table] of its own"),
        "model_type": ("a table", "write it as a [table] of its own"),
        "tuple_type": ("a list", "put it in square brackets"),
    }
    if kind in wanted:
        words, mend = wanted[kind]
        return f"must be {words}, is {given}", mend
    if kind in {"too_short", "too_long"}:
        least = context.get("min_length", context.get("max_length"))
        words = "at least" if kind == "too_short" else "at most"
        return f"must hold {words} {least}, holds {context['actual_length']}", "correct the list"
    return f"{error['msg'][:1].lower()}{error['msg'][1:]}, is {given}", "correct the value"


def _short(value: Any) -> str:
    text = repr(value)
    return text if len(text) <= LONGEST_VALUE_TOLD else f"{text[: LONGEST_VALUE_TOLD - 3]}..."


def _keys_at(shape: type[BaseModel], path: KeyPath) -> list[str]:
    """Return the keys known at a path, walking the shape's annotations."""
    found: Any = shape
    for part in path:
        found = _step(found, part)
    table = _table(found)
    return list(_fields(table)) if table else []


def _fields(table: type[BaseModel]) -> dict[str, Any]:
    return {field.alias or name: field.annotation for name, field in table.model_fields.items()}


def _table(annotation: Any) -> type[BaseModel] | None:
    """Return the table an annotation means, also behind ``T | None``."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    if get_origin(annotation) in {dict, list}:
        return None
    return next((table for inner in get_args(annotation) if (table := _table(inner))), None)


def _step(annotation: Any, part: str | int) -> Any:
    """Return the annotation of what lies under a key or index."""
    table = _table(annotation)
    if table is not None:
        return _fields(table).get(str(part))
    if get_origin(annotation) in {dict, list}:
        return get_args(annotation)[-1]
    return next((inner for inner in get_args(annotation) if get_origin(inner)), None)
