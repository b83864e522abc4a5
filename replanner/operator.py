"""What an operator types: run the bot, invite riders, look whether it is well, make a copy.

The bot's parts are imported where they are used: no other command waits for them.
"""
# ruff: noqa: PLC0415 - said above

import asyncio
import json
import logging
import sys
import urllib.error
import urllib.request
from datetime import timedelta
from pathlib import Path

import click

from replanner.errors import InputError
from replanner.people import Role
from replanner.told import rider_errors

NO = 1
_GOOD_FOR = timedelta(days=14)
_PATIENCE_SECONDS = 5.0


@click.command(epilog="Example: REPLANNER_TOKEN=... replanner serve")
@click.option("--verbose", is_flag=True, help="Log more; the token is never logged.")
def serve(*, verbose: bool) -> None:
    """Run the bot: evening plans, checks and answers, until it is told to stop."""
    with rider_errors():
        from replanner.files.settings import load_settings, read_token
        from replanner.serving import serve as run
        from replanner.serving import start_logging
        from replanner.wiring import present

        settings = load_settings()
        token = read_token(settings.service)
        start_logging(logging.DEBUG if verbose else logging.INFO)
        asyncio.run(run(settings, token, present))


@click.command(epilog="Example: replanner invite my_tour.toml --role leader")
@click.argument("tour", type=click.Path(path_type=Path))
@click.option(
    "--role",
    type=click.Choice([str(role) for role in Role]),
    default=str(Role.RIDER),
    show_default=True,
    help="A leader decides for the group.",
)
def invite(tour: Path, role: str) -> None:
    """Print a code that lets one chat ride along on a tour; good once, for 14 days."""
    with rider_errors():
        from replanner.files.raw import read_raw
        from replanner.files.settings import load_settings
        from replanner.store.store import open_store
        from replanner.wiring import checked_tour, present

        settings = load_settings()
        checked_tour(tour)
        text = read_raw(tour, mend="name a tour file").decode("utf-8-sig")
        store = open_store(settings.state_address, present)
        try:
            group = store.group_riding(text) or store.new_group(text)
            code = store.invite(group.id, Role(role), present() + _GOOD_FOR)
        finally:
            store.close()
        click.echo(f"Send the bot this, as one message:\n{code}")


@click.command(epilog="Example: replanner health || echo look at it")
def health() -> None:
    """Say whether the bot on this machine is well: exit status 0 if it is, 1 if not."""
    with rider_errors():
        from replanner.files.settings import load_settings

        port = load_settings().service.status_port
        if port == 0:
            raise InputError(
                "no status page is served",
                where="status_port in settings.toml",
                mend="name a port there and start the bot again",
            )
        state = _asked(port)
        if state is None:
            click.echo("not running, or not answering")
            sys.exit(NO)
        click.echo(json.dumps(state, indent=2))
        if not state["well"]:
            sys.exit(NO)


@click.command(epilog="Example: replanner backup yesterday.sqlite")
@click.argument("file", type=click.Path(path_type=Path))
def backup(file: Path) -> None:
    """Copy the state, sound, while the bot runs; name the copy in REPLANNER_STATE to go back."""
    with rider_errors():
        from replanner.files.settings import load_settings
        from replanner.store.store import open_store
        from replanner.wiring import present

        store = open_store(load_settings().state_address, present)
        try:
            store.backup(file)
        finally:
            store.close()
        click.echo(f"copied to {file}")


def _asked(port: int) -> dict[str, object] | None:
    address = f"http://127.0.0.1:{port}/health"
    try:
        with urllib.request.urlopen(address, timeout=_PATIENCE_SECONDS) as answer:
            found = json.load(answer)
    except urllib.error.HTTPError as error:
        try:
            found = json.load(error)
        except ValueError:
            return None
    except (OSError, ValueError):
        return None
    return found if isinstance(found, dict) and "well" in found else None
