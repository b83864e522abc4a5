"""Bytes of a file the rider named, or one plain line why not."""

from pathlib import Path

from replanner.errors import InputError

LARGEST_BYTES = 5_000_000  # far above any tour; a rider's mistake, e.g. a video, must not hang us


def read_raw(path: Path, *, mend: str) -> bytes:
    """Return a file's bytes.

    Raises
    ------
    InputError
        If it cannot be opened or is too large; `mend` says what to name instead.
    """
    try:
        if path.stat().st_size > LARGEST_BYTES:
            raise InputError("the file is too large", where=str(path), mend=mend)
        return path.read_bytes()
    except OSError as error:
        raise InputError(
            f"the file cannot be read ({error.strerror or error})",
            where=str(path),
            mend="check the path and that you may read it",
        ) from error


def write_text(path: Path, text: str) -> None:
    """Write a text file whole or not at all; raises InputError if it cannot be written."""
    write_bytes(path, text.encode())


def write_bytes(path: Path, content: bytes) -> None:
    """Write a file whole or not at all; raises InputError if it cannot be written."""
    beside = path.with_name(path.name + ".part")
    try:
        beside.write_bytes(content)
        beside.replace(path)
    except OSError as error:
        raise InputError(
            f"the file cannot be written ({error.strerror or error})",
            where=str(path),
            mend="name a folder that exists and that you may write to",
        ) from error
