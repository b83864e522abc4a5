"""The part of a faulty file that is sound, so that its other mistakes are found in one go too."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from replanner.files.shape import Table, key_path
from replanner.files.toml_text import KeyPath

Shape = TypeVar("Shape", bound=Table)


@dataclass(frozen=True, slots=True)
class SoundPart(Generic[Shape]):
    """What is left of a file without the tables and keys that are wrong by themselves.

    Parameters
    ----------
    document : Table
    removed : frozenset of key path
        What was taken out, in the paths of the file.
    origin : mapping of key path to tuple of int
        For each list of the document, the places its items had in the file.
    """

    document: Shape
    removed: frozenset[KeyPath]
    origin: Mapping[KeyPath, tuple[int, ...]]

    def in_file(self, path: KeyPath) -> KeyPath:
        """Turn a path of the document into the path of the file."""
        return _in_file(path, self.origin)

    def touches(self, path: KeyPath) -> bool:
        """Return whether something was taken out at or under that path of the file."""
        return any(gone[: len(path)] == path for gone in self.removed)


def sound_part(
    shape: type[Shape], table: Mapping[str, Any], stand_ins: Mapping[str, Any]
) -> SoundPart[Shape]:
    """Take out of a table what its shape refuses, until the rest is sound.

    Parameters
    ----------
    shape : type
    table : mapping
        The file's content, left as it is.
    stand_ins : mapping
        Sound values for the keys the file must have at its top.
    """
    removed: frozenset[KeyPath] = frozenset()
    while True:
        origin: dict[KeyPath, tuple[int, ...]] = {}
        rest = {**stand_ins, **_without(table, removed, (), (), origin)}
        try:
            return SoundPart(shape.model_validate(rest), removed, origin)
        except ValidationError as error:
            found = {_to_remove(detail, origin) for detail in error.errors(include_url=False)}
        # Whatever is already gone and still complained of is missed: its holder goes as well.
        removed |= {path[:-1] if path in removed else path for path in found}


def _to_remove(error: ErrorDetails, origin: Mapping[KeyPath, tuple[int, ...]]) -> KeyPath:
    path = key_path(error)
    if error["type"] == "missing" and len(path) > 1:
        path = path[:-1]
    return _in_file(path, origin)


def _in_file(path: KeyPath, origin: Mapping[KeyPath, tuple[int, ...]]) -> KeyPath:
    found: KeyPath = ()
    for depth, part in enumerate(path):
        places = origin.get(path[:depth])
        found = (*found, places[part] if places and isinstance(part, int) else part)
    return found


def _without(
    value: Any,
    removed: frozenset[KeyPath],
    path: KeyPath,
    new_path: KeyPath,
    origin: dict[KeyPath, tuple[int, ...]],
) -> Any:
    """Copy a value without the removed paths, noting where list items came from."""
    if isinstance(value, dict):
        return {
            key: _without(inner, removed, (*path, key), (*new_path, key), origin)
            for key, inner in value.items()
            if (*path, key) not in removed
        }
    if isinstance(value, list):
        kept = tuple(index for index in range(len(value)) if (*path, index) not in removed)
        origin[new_path] = kept
        return [
            _without(value[index], removed, (*path, index), (*new_path, place), origin)
            for place, index in enumerate(kept)
        ]
    return value
