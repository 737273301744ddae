"""Logs: lines for people or one JSON object a line, each with the request's id, and nothing that a client sent."""

from __future__ import annotations

import logging
import logging.config
import traceback
from typing import Any, Literal

Format = Literal["text", "json"]

ACCESS = "warmstead.access"
JSON_FIELDS = {"asctime": "time", "levelname": "level", "name": "logger", "correlation_id": "request_id"}
"""Names of a record's members, and what they are called in JSON."""


def configuration(form: Format) -> dict[str, Any]:
    """Return how all logs are written, those of the server included, for `logging.config.dictConfig`.

    Everything goes to standard error, except a request's own line, which goes to standard output.
    """
    return {
        "version": 1,
        "disable_existing_loggers": False,
        "filters": {"request_id": {"()": "asgi_correlation_id.CorrelationIdFilter"}},
        "formatters": {
            "text": {"()": "warmstead.api.observing.logs.TextFormatter"},
            "json": {
                "()": "pythonjsonlogger.orjson.OrjsonFormatter",
                "fmt": "{asctime}{levelname}{name}{message}{correlation_id}",
                "style": "{",
                "datefmt": "%Y-%m-%dT%H:%M:%S%z",
                "rename_fields": JSON_FIELDS,
                # A second form of the message, with colours.
                "reserved_attrs": [*_RESERVED, "color_message"],
            },
        },
        "handlers": {
            name: {
                "class": "logging.StreamHandler",
                "stream": f"ext://sys.{stream}",
                "formatter": form,
                "filters": ["request_id"],
            }
            for name, stream in (("errors", "stderr"), ("requests", "stdout"))
        },
        "root": {"handlers": ["errors"], "level": "WARNING"},
        "loggers": {
            "uvicorn": {"handlers": ["errors"], "level": "INFO", "propagate": False},
            "warmstead": {"handlers": ["errors"], "level": "INFO", "propagate": False},
            ACCESS: {"handlers": ["requests"], "level": "INFO", "propagate": False},
        },
    }


def configure(form: Format) -> None:
    """Write all logs of this process so."""
    logging.config.dictConfig(configuration(form))


_RESERVED = sorted(logging.makeLogRecord({}).__dict__)


class TextFormatter(logging.Formatter):
    """A line for people: level, message, and the request's id where there is one."""

    def __init__(self) -> None:
        """Take the form of a line."""
        super().__init__("%(levelname)s: %(message)s")

    def formatMessage(self, record: logging.LogRecord) -> str:  # noqa: N802 - the name is the library's
        """Return a record as a line."""
        line = super().formatMessage(record)
        request_id = getattr(record, "correlation_id", None)
        return line if request_id is None else f"{line} [{request_id}]"


def silence_the_server() -> None:
    """Drop the server's own line for each request: it holds whole addresses, with their queries."""
    logging.getLogger("uvicorn.access").addFilter(_nothing)


def _nothing(record: logging.LogRecord) -> bool:
    return False


def where(error: BaseException) -> str:
    """Return what an exception is and where it arose, without its text, which may quote the request.

    The causes are told as well, innermost first.
    """
    chain = [error]
    while (cause := chain[-1].__cause__ or chain[-1].__context__) is not None and cause not in chain:
        chain.append(cause)
    return "\n".join(_one(each) for each in reversed(chain))


def _one(error: BaseException) -> str:
    kind = type(error)
    frames = traceback.extract_tb(error.__traceback__)
    lines = [f'  File "{frame.filename}", line {frame.lineno}, in {frame.name}' for frame in frames]
    return "\n".join([f"{kind.__module__}.{kind.__qualname__}", *lines])
