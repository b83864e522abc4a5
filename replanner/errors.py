"""Every error a rider can meet: what is wrong, where, and how to mend it.

Each error is one line when printed. `where` names the file, line, key path or leg; `mend` says
what to do about it. Programming mistakes raise `ValueError` or `TypeError`, never one of these.
"""

from dataclasses import dataclass


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
        return f"{line} -- {self.mend}" if self.mend else line


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


class StoreError(ReplannerError):
    """The plan store cannot be read or written."""


class NoPlanError(ReplannerError):
    """No plan keeps every demand; says which demands cannot hold together."""
