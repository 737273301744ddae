"""What the service may be told by its environment: each member of `Settings` by its name in capitals after `WARMSTEAD_`.

`warmstead serve --help` and the guide list them from here, so that a setting is described once.
"""

from __future__ import annotations

import os
import re
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Literal

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, ValidationError

PREFIX = "WARMSTEAD_"


def _named(file: Path | None) -> Path | None:
    if file == Path():
        raise ValueError("must name a file; leave the setting out where there is none")
    return file


def _listed(given: object) -> object:
    return tuple(given.replace(",", " ").split()) if isinstance(given, str) else given


def _origin(text: str) -> str:
    if not re.fullmatch(r"https?://(\[[0-9a-f:]+\]|[a-z0-9.-]+)(:[0-9]{1,5})?", text):
        raise ValueError(
            "an origin is http:// or https://, a host in lower case and perhaps a port, nothing after it"
        )
    return text


Origin = Annotated[str, AfterValidator(_origin)]


class Settings(BaseModel):
    """All settings of a service, with safe defaults."""

    model_config = ConfigDict(frozen=True, use_attribute_docstrings=True)

    maximum_body_bytes: Annotated[int, Field(ge=1024)] = 8 * 1024 * 1024
    """Largest request body; about 15,000 elements fit. Crossed: 413."""

    long_questions_at_once: Annotated[int, Field(ge=1)] = os.cpu_count() or 1
    """Questions that take long (many draws, many states) and are worked on at the same time, in each worker process."""

    keys_file: Annotated[Path | None, AfterValidator(_named)] = None
    """File of the keys that callers show, hashed, one a line (`warmstead key new`). It is read again when it changes."""

    behind_proxy: bool = False
    """A proxy in front checks who calls, so that callers from other machines need no key. A keys file counts all the same."""

    open_cells: bool = False
    """What is asked by GET needs no key: cells, tables, codes, the guide and the documentation; not `/metrics`."""

    open_metrics: bool = False
    """`/metrics` needs no key, from any machine."""

    allowed_origins: Annotated[tuple[Origin, ...], BeforeValidator(_listed)] = ()
    """Origins whose pages may call from a browser (CORS), exact, with commas between. None by default."""

    access_log: bool = False
    """One line for each request: method, route, status, time and request id; never an address, a query or a body."""

    log_format: Literal["text", "json"] = "text"
    """Form of all logs: lines for people, or one JSON object a line."""

    metrics_folder: Annotated[Path | None, AfterValidator(_named)] = None
    """Folder in memory in which several worker processes add up their figures. By default one is made, and removed at the end."""


class UnusableSetting(Exception):
    """The environment holds a setting that cannot be used; says which, and what would be accepted."""


def from_environment(environment: Mapping[str, str]) -> Settings:
    """Return the settings that an environment gives.

    Raises:
        UnusableSetting: a value is not one of those accepted.
    """
    given = {
        name: environment[variable(name)] for name in Settings.model_fields if variable(name) in environment
    }
    try:
        return Settings.model_validate(given)
    except ValidationError as error:
        reasons = "; ".join(f"{variable(str(found['loc'][0]))}: {found['msg']}" for found in error.errors())
        raise UnusableSetting(reasons) from None


def variable(name: str) -> str:
    """Return the name of a setting in the environment."""
    return f"{PREFIX}{name.upper()}"


SETTINGS = from_environment(os.environ)
"""Those of this process."""
