"""What the service may be told by its environment: each member of `Settings` by its name in capitals after `WARMSTEAD_`.

`warmstead serve --help` and the guide list them from here, so that a setting is described once.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field, ValidationError

PREFIX = "WARMSTEAD_"


class Settings(BaseModel):
    """All settings of a service, with safe defaults."""

    model_config = ConfigDict(frozen=True, use_attribute_docstrings=True)

    maximum_body_bytes: Annotated[int, Field(ge=1024)] = 8 * 1024 * 1024
    """Largest request body; about 15,000 elements fit. Crossed: 413."""

    maximum_batch_line_bytes: Annotated[int, Field(ge=1024)] = 1024 * 1024
    """Longest line of a batch; about 2,000 elements fit. Crossed: that line gets a problem 413."""

    seconds_per_batch_line: Annotated[float, Field(gt=0)] = 10.0
    """Time that a line of a batch may take. Crossed: its work is ended, and that line gets a problem 503."""

    batches_at_once: Annotated[int, Field(ge=1)] = 8
    """Batches that are answered at the same time, in each worker process. Crossed: 503 with Retry-After."""

    batch_processes: Annotated[int, Field(ge=1)] = os.cpu_count() or 1
    """Processes that work on batches, shared by all batches of a worker process; begun with the first batch."""

    batch_stall_seconds: Annotated[float, Field(gt=0)] = 60.0
    """How long a batch waits for its sender (crossed: a last line with a problem 408) or its reader (crossed: the end)."""

    long_questions_at_once: Annotated[int, Field(ge=1)] = os.cpu_count() or 1
    """Questions that take long (many draws, many states) and are worked on at the same time, in each worker process."""


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
