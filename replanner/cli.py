"""The command line: the shell's outermost edge."""

import click


@click.group()
def main() -> None:
    """Plan tomorrow's ride by the weather, the daylight and the road."""
