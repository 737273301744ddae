"""The service over HTTP, and the tools of an assistant."""

from __future__ import annotations

import signal
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import click

from warmstead.cli.access import access_options, shared_figures, told

STARTUP_SECONDS = 60
"""A server process that is not up by then is given up, as is one that does not answer its supervisor."""


class _SettingsListed(click.Command):
    """Its help ends with what may be set by the environment."""

    def format_epilog(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the settings, their defaults and what they mean."""
        from warmstead.api.settings import Settings, default, variable

        with formatter.section(
            "Environment (options above win; limits with what is answered when one is crossed)"
        ):
            formatter.write_dl(
                [
                    (variable(name), f"{field.description} [default: {default(name)}]")
                    for name, field in Settings.model_fields.items()
                ]
            )


@click.command(cls=_SettingsListed)
@click.option("--host", default="127.0.0.1", show_default=True, help="Address to listen on.")
@click.option(
    "--port", default=8080, show_default=True, type=click.IntRange(0, 65535), help="Port to listen on."
)
@click.option("--workers", default=1, show_default=True, type=click.IntRange(1, 64), help="Worker processes.")
@access_options
def serve(host: str, port: int, workers: int, **options: Any) -> None:
    """Serve the questions over HTTP; the documentation is at /docs.

    Callers on this machine need nothing. At any other address the service asks for a key, or leaves that to a proxy.

    SIGTERM ends it gracefully: what is at hand is answered. With several workers, SIGHUP replaces them one by one without
    losing a request, and one that dies is replaced.
    """
    settings = told(host, options)

    import uvicorn

    from warmstead.api.observing.logs import configuration

    # uvicorn raises the signal that ended it once more; a service that ended as it was told to ends with status 0.
    signal.signal(signal.SIGTERM, lambda number, frame: None)
    with shared_figures(workers, settings.metrics_folder):
        uvicorn.run(
            host=host,
            port=port,
            workers=workers,
            access_log=False,
            log_config=configuration(settings.log_format),
            proxy_headers=False,
            **_served_how(),
        )


def _served_how() -> dict[str, Any]:
    from warmstead.api.limits.protocol import LimitedProtocol
    from warmstead.api.settings import SETTINGS

    return {
        "app": "warmstead.api.app:app",
        "http": LimitedProtocol,
        "ws": "none",
        "server_header": False,
        "timeout_keep_alive": SETTINGS.seconds_between_requests,
        "timeout_graceful_shutdown": SETTINGS.seconds_to_finish,
        "timeout_worker_healthcheck": STARTUP_SECONDS,
    }


@click.command()
def assistant() -> None:
    """Offer the questions to an assistant as tools (Model Context Protocol), over standard input and output."""
    try:
        from warmstead.assistant import server
    except ImportError as error:
        raise click.ClickException(
            f"this needs the extra: pip install 'warmstead[assistant]' ({error})"
        ) from None
    server().run(show_banner=False)


@contextmanager
def served() -> Iterator[str]:
    """Serve on a free port of this machine in a thread; yields the address."""
    import uvicorn

    config = uvicorn.Config(host="127.0.0.1", port=0, log_level="warning", **_served_how())
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    deadline = time.monotonic() + STARTUP_SECONDS
    while not server.started:
        if time.monotonic() > deadline or not thread.is_alive():
            raise click.ClickException("the service did not start")
        time.sleep(0.01)
    try:
        port = server.servers[0].sockets[0].getsockname()[1]
        yield f"http://127.0.0.1:{port}"
    finally:
        server.should_exit = True
        thread.join(timeout=5.0)
