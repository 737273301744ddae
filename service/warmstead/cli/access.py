"""The options of `warmstead serve` about who may call and what can be seen; the service reads them from its environment."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, TypeVar

import click

Command = TypeVar("Command", bound=Callable[..., Any])

BYTES_FOR_EACH_WORKER = 8 * 1024 * 1024
MEMORY = Path("/dev/shm")

OPTIONS = (
    click.option(
        "--keys-file",
        type=click.Path(dir_okay=False, path_type=Path),
        help="File of the keys that callers show, as `warmstead key new` writes it.",
    ),
    click.option("--behind-proxy", is_flag=True, help="A proxy in front checks who calls."),
    click.option("--open-cells", is_flag=True, help="What is asked by GET needs no key."),
    click.option("--open-metrics", is_flag=True, help="/metrics needs no key, from any machine."),
    click.option(
        "--allowed-origin",
        "allowed_origins",
        multiple=True,
        metavar="ORIGIN",
        help="Origin whose pages may call from a browser; may be repeated.",
    ),
    click.option(
        "--access-log", is_flag=True, help="One line for each request; never an address, a query or a body."
    ),
    click.option(
        "--log-format", type=click.Choice(["text", "json"]), help="Form of all logs; text by default."
    ),
)


def access_options(command: Command) -> Command:
    """Give a command the options of this module."""
    for option in reversed(OPTIONS):
        command = option(command)
    return command


def told(host: str, options: dict[str, Any]) -> Any:
    """Put options into the environment, where the service and its worker processes read them; return all settings.

    Args:
        host: address to listen on.
        options: those of this module, by name; the ones that were given.

    Raises:
        click.UsageError: a setting cannot be used, or anybody on the network could call.
    """
    try:
        from warmstead.api.keys import Keys, UnusableKeys
        from warmstead.api.settings import UnusableSetting, from_environment, variable
    except ValueError as error:  # settings are read when their module is
        raise click.UsageError(str(error)) from None
    for name, value in options.items():
        if value:
            os.environ[variable(name)] = ",".join(value) if isinstance(value, tuple) else str(value)
    try:
        settings = from_environment(os.environ)
        if settings.keys_file is not None:
            Keys(settings.keys_file)
    except (UnusableSetting, UnusableKeys) as error:
        raise click.UsageError(str(error)) from None
    if settings.keys_file is None and not settings.behind_proxy:
        _refuse_the_network(host)
    return settings


def _refuse_the_network(host: str) -> None:
    from warmstead.api.loopback import is_loopback

    if not is_loopback(host):
        raise click.UsageError(
            f"at {host or 'every address'} other machines could call, and nothing would check who they are. Either give keys: "
            "`warmstead key new --file KEYS` makes one, `--keys-file KEYS` asks for it. Or say that a proxy in front checks: "
            "`--behind-proxy`. Or serve this machine only: `--host 127.0.0.1`"
        )


@contextmanager
def shared_figures(workers: int, folder: Path | None) -> Iterator[None]:
    """Let several worker processes add up their figures in a folder in memory, for as long as they run.

    Args:
        workers: how many.
        folder: where to make it; in memory, where absent and there is room, else each process counts for itself.

    Raises:
        click.UsageError: nothing can be made in the folder that was named.
    """
    place = folder or (MEMORY if _has_room(MEMORY, workers) else None)
    if workers == 1 or place is None:
        yield
        return
    from warmstead.api.observing import FOLDER_VARIABLE

    try:
        made = tempfile.mkdtemp(prefix="warmstead-", dir=place)
    except OSError as error:
        raise click.UsageError(
            f"WARMSTEAD_METRICS_FOLDER: nothing can be made in {place}: {error.strerror}"
        ) from None
    os.environ[FOLDER_VARIABLE] = made
    try:
        yield
    finally:
        del os.environ[FOLDER_VARIABLE]
        shutil.rmtree(made, ignore_errors=True)


def _has_room(folder: Path, workers: int) -> bool:
    try:
        return (
            os.access(folder, os.W_OK) and shutil.disk_usage(folder).free >= workers * BYTES_FOR_EACH_WORKER
        )
    except OSError:
        return False
