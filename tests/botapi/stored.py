"""Files: kept under paths of our own, measured as the service measures pictures."""

import re
import struct

from tests.botapi import facts
from tests.botapi.facts import Refusal, bad_request
from tests.botapi.state import Json, StoredFile, World

PNG = b"\x89PNG\r\n\x1a\n"
JPEG = b"\xff\xd8\xff"
NOMINAL_SIDES = (1280, 960)  # of a JPEG, whose sides are not read here


def store(world: World, name: str, content: bytes, mime: str, *, folder: str) -> StoredFile:
    """Keep a file and return it."""
    number = len(world.files) + 1
    ending = re.search(r"\.[A-Za-z0-9]{1,8}$", name)
    path = f"{folder}/file_{number}{ending[0] if ending else ''}"
    kept = StoredFile(f"F{number:06d}", path, name, mime, content)
    world.files[kept.file_id] = kept
    return kept


def document_json(kept: StoredFile) -> Json:
    return kept.as_json() | {"file_name": kept.name, "mime_type": kept.mime}


def photo_json(kept: StoredFile) -> list[Json]:
    """Return the sizes of a photo: here only the one sent."""
    width, height = sides(kept.content)
    return [kept.as_json() | {"width": width, "height": height}]


def sides(picture: bytes) -> tuple[int, int]:
    """Return width and height of a picture; refuse what is none. [pixels]"""
    if picture.startswith(PNG) and len(picture) >= 24:
        width, height = struct.unpack(">II", picture[16:24])
        return width, height
    if picture.startswith(JPEG):
        return NOMINAL_SIDES
    raise bad_request("IMAGE_PROCESS_FAILED")


def check_photo(picture: bytes) -> None:
    """Refuse a photo beyond the documented sizes (facts.py)."""
    if len(picture) > facts.PHOTO_BYTES:
        raise Refusal(413, "Request Entity Too Large")
    width, height = sides(picture)
    if width + height > facts.PHOTO_SIDES or max(width, height) > facts.PHOTO_RATIO * min(
        width, height
    ):
        raise bad_request("PHOTO_INVALID_DIMENSIONS")
