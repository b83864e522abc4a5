"""How a command ends that cannot go on: one line a mistake on standard error, exit status 2."""

import sys
from collections.abc import Iterator
from contextlib import contextmanager

import click

from replanner.errors import ReplannerError

BAD = 2


@contextmanager
def rider_errors() -> Iterator[None]:
    """End with status 2 and the rider's lines on stderr where the project's own errors arise."""
    try:
        yield
    except ReplannerError as error:
        for fault in error.faults:
            click.echo(str(fault), err=True)
        sys.exit(BAD)
