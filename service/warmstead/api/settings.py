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

from warmstead.exchange.holding import CONTRACT, Most

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


def _processors() -> int:
    """The number of processors."""
    return os.cpu_count() or 1


Origin = Annotated[str, AfterValidator(_origin)]


class Settings(BaseModel):
    """All settings of a service, with safe defaults."""

    model_config = ConfigDict(frozen=True)

    maximum_body_bytes: Annotated[int, Field(ge=1024)] = Field(
        8 * 1024 * 1024, description="Largest request body; about 15,000 elements fit. Crossed: 413."
    )

    body_bytes_at_hand: Annotated[int, Field(ge=1024)] = Field(
        64 * 1024 * 1024,
        description="Bodies that are coming in at the same time, together, in each server process. Crossed: 503 with Retry-After.",
    )

    maximum_header_bytes: Annotated[int, Field(ge=1024)] = Field(
        32 * 1024, description="Largest head of a request: its first line and its headers. Crossed: 431."
    )

    maximum_json_depth: Annotated[int, Field(ge=1, le=CONTRACT.json_depth)] = Field(
        CONTRACT.json_depth,
        description="Objects and lists within each other; a house nests about ten. Crossed: 400.",
    )

    maximum_list_length: Annotated[int, Field(ge=1, le=CONTRACT.list_length)] = Field(
        CONTRACT.list_length,
        description="Items of any list and members of any object, in so far as the schema allows them. Crossed: 422.",
    )

    maximum_combinations: Annotated[int, Field(ge=1, le=CONTRACT.combinations)] = Field(
        CONTRACT.combinations,
        description="Sections that the bridges of one layered construction make. Crossed: 422.",
    )

    maximum_draws: Annotated[int, Field(ge=1000, le=CONTRACT.draws)] = Field(
        CONTRACT.draws, description="Draws of an uncertainty. Crossed: 422."
    )

    seconds_to_send_headers: Annotated[float, Field(gt=0)] = Field(
        10.0,
        description="From the first byte of a request to the end of its headers. Crossed: 408; a connection that sends nothing is closed.",
    )

    seconds_to_send_body: Annotated[float, Field(gt=0)] = Field(
        30.0, description="From the end of the headers to the end of the body. Crossed: 408."
    )

    seconds_to_take_answer: Annotated[float, Field(gt=0)] = Field(
        30.0,
        description="In which a client that has stopped reading must go on. Crossed: its connection is closed.",
    )

    seconds_between_requests: Annotated[int, Field(ge=1)] = Field(
        20, description="A connection may stay open without a request. Crossed: it is closed."
    )

    connections_at_once: Annotated[int, Field(ge=1)] = Field(
        1000,
        description="Connections open at the same time, in each server process. Crossed: 503, and the connection is closed.",
    )

    requests_at_once: Annotated[int, Field(ge=1)] = Field(
        64,
        description="Requests at hand at the same time, in each server process; health is never refused. Crossed: 503 with Retry-After.",
    )

    body_bytes_answered_at_once: Annotated[int, Field(ge=0)] = Field(
        128 * 1024,
        description="Larger bodies are answered like questions that take long: in a process of their own.",
    )

    long_questions_at_once: Annotated[int, Field(ge=1)] = Field(
        default_factory=_processors,
        description=(
            "Questions that take long (many draws, many states, large bodies, files) at work at the same "
            "time, in each server process."
        ),
    )

    long_questions_waiting: Annotated[int, Field(ge=0)] = Field(
        16, description="Long questions that may wait for their turn. Crossed: 503 with Retry-After."
    )

    seconds_waiting_for_a_turn: Annotated[float, Field(gt=0)] = Field(
        10.0, description="A long question waits for its turn. Crossed: 503 with Retry-After."
    )

    seconds_for_a_question: Annotated[float, Field(gt=0)] = Field(
        30.0, description="A long question is worked on. Crossed: the work is ended, 503."
    )

    memory_for_a_question_mebibytes: Annotated[int, Field(ge=384)] = Field(
        1024,
        description="Address space of the process that works on a long question. Crossed: the work is ended, 503.",
    )

    long_questions_before_renewal: Annotated[int, Field(ge=1)] = Field(
        500, description="After so many long questions their process is replaced by a new one."
    )

    maximum_batch_line_bytes: Annotated[int, Field(ge=1024)] = Field(
        1024 * 1024,
        description="Longest line of a batch; about 2,000 elements fit. Crossed: that line gets a problem 413.",
    )

    seconds_for_a_batch_line: Annotated[float, Field(gt=0)] = Field(
        10.0,
        description="A line of a batch is worked on. Crossed: its work is ended, and that line gets a problem 503.",
    )

    seconds_between_batch_lines: Annotated[float, Field(gt=0)] = Field(
        60.0,
        description="A batch waits for its sender, once all lines are answered. Crossed: the batch ends with a line that says 408.",
    )

    batches_at_once: Annotated[int, Field(ge=1)] = Field(
        8,
        description="Batches at hand at the same time, in each server process. Crossed: 503 with Retry-After.",
    )

    batch_processes: Annotated[int, Field(ge=1)] = Field(
        default_factory=_processors,
        description="Processes that work on the lines of all batches, in each server process; started with the first batch.",
    )

    seconds_of_notice: Annotated[float, Field(ge=0)] = Field(
        1.0,
        description="Told to end (SIGTERM), the service is not ready any more, but goes on answering for so long.",
    )

    seconds_to_finish: Annotated[int, Field(ge=1)] = Field(
        45, description="After the notice, requests at hand may take so long before they are cut off."
    )

    keys_file: Annotated[Path | None, AfterValidator(_named)] = Field(
        None,
        description="File of the keys that callers show, hashed, one a line (`warmstead key new`). It is read again when it changes.",
    )

    behind_proxy: bool = Field(
        False,
        description="A proxy in front checks who calls, so that callers from other machines need no key. A keys file counts all the same.",
    )

    open_cells: bool = Field(
        False,
        description="What is asked by GET needs no key: cells, tables, codes, the guide and the documentation; not `/metrics`.",
    )

    open_metrics: bool = Field(False, description="`/metrics` needs no key, from any machine.")

    allowed_origins: Annotated[tuple[Origin, ...], BeforeValidator(_listed)] = Field(
        (),
        description="Origins whose pages may call from a browser (CORS), exact, with commas between. None by default.",
    )

    access_log: bool = Field(
        False,
        description="One line for each request: method, route, status, time and request id; never an address, a query or a body.",
    )

    log_format: Literal["text", "json"] = Field(
        "text", description="Form of all logs: lines for people, or one JSON object a line."
    )

    metrics_folder: Annotated[Path | None, AfterValidator(_named)] = Field(
        None,
        description=(
            "Folder in memory in which several worker processes add up their figures. By default one is "
            "made, and removed at the end."
        ),
    )

    @property
    def most_held(self) -> Most:
        """What a request may hold."""
        return Most(
            self.maximum_json_depth, self.maximum_list_length, self.maximum_combinations, self.maximum_draws
        )


class UnusableSetting(ValueError):
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


def default(name: str) -> str:
    """Say in words what holds where a setting is not given, the same on each machine."""
    field = Settings.model_fields[name]
    if field.default_factory is not None:
        return (field.default_factory.__doc__ or "").lower().rstrip(".")
    if isinstance(field.default, bool):
        return str(field.default).lower()
    if field.default in (None, ()):
        return "none"
    return f"{field.default:g}" if isinstance(field.default, float) else str(field.default)


SETTINGS = from_environment(os.environ)
"""Those of this process."""
