"""Every error a rider can meet: what is wrong, where, and how to mend it.

Each error is one line when printed. `where` names the file, line, key path or leg; `mend` says
what to do about it. Programming mistakes raise `ValueError` or `TypeError`, never one of these.
"""

import difflib
from collections.abc import Iterable
from dataclasses import dataclass

MOST_NAMES_TOLD = 12


@dataclass(frozen=True, slots=True)
class Fault:
    """One mistake in something the rider gave us.

    Parameters
    ----------
    where : str
        File with line, key path or leg, as exact as is known.
    what : str
        What is wrong, in a rider's words.
    mend : str
        How to mend it; empty where nothing is to be done.
    """

    where: str
    what: str
    mend: str = ""

    def __str__(self) -> str:
        line = f"{self.where}: {self.what}" if self.where else self.what
        line = f"{line} -- {self.mend}" if self.mend else line
        # A key of the rider's file may hold a line's end: told, it stays one line.
        return line if line.isprintable() else "".join(map(_told, line))


def _told(character: str) -> str:
    return character if character.isprintable() else repr(character)[1:-1]


class ReplannerError(Exception):
    """Base of all errors meant for the rider.

    Parameters
    ----------
    what : str
        What is wrong.
    where : str
        Where it is wrong.
    mend : str
        How to mend it.
    """

    def __init__(self, what: str, *, where: str = "", mend: str = "") -> None:
        self.faults: tuple[Fault, ...] = (Fault(where, what, mend),)
        super().__init__(str(self.faults[0]))


class InputError(ReplannerError):
    """The rider's own file or words cannot be used; holds every fault found, not just the first."""

    @classmethod
    def of(cls, faults: "tuple[Fault, ...]") -> "InputError":
        """Make one error of all faults of a file. Raises ValueError if there are none."""
        if not faults:
            raise ValueError("an InputError needs at least one fault")
        first = faults[0]
        error = cls(first.what, where=first.where, mend=first.mend)
        error.faults = faults
        error.args = ("\n".join(str(fault) for fault in faults),)
        return error


class ForecastError(ReplannerError):
    """No forecast can be had from a service, or its answer is not sound."""


class ConflictError(ReplannerError):
    """Another run was quicker: nothing of this one is stored, it can be tried again."""


class StoreError(ReplannerError):
    """The plan store cannot be read or written."""


class NoPlanError(ReplannerError):
    """No plan keeps every demand; says which demands cannot hold together."""


def nearest(name: str, known: Iterable[str]) -> str:
    """Say how to mend an unknown name: the nearest known one, else the known ones."""
    names = sorted(known)
    near = difflib.get_close_matches(name, names, n=1, cutoff=0.6)
    if near:
        return f"did you mean {near[0]!r}?"
    if not names:
        return "none is known"
    more = ", ..." if len(names) > MOST_NAMES_TOLD else ""
    return f"known are {', '.join(names[:MOST_NAMES_TOLD])}{more}"
