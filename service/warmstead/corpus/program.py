"""Reach an implementation that has no server: one process for each request."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import tempfile
import threading
from contextlib import suppress
from typing import IO, TYPE_CHECKING, Annotated

import httpx
from pydantic import BaseModel, ConfigDict, Field, JsonValue, ValidationError

from warmstead.corpus.files import strict_json

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

LARGEST_ANSWER = 32 * 1024 * 1024
_LAST_WORDS = 4096
_SECONDS_TO_END = 1.0


class _Answer(BaseModel):
    """The envelope that the program writes."""

    model_config = ConfigDict(extra="forbid", strict=True)

    status: Annotated[int, Field(ge=200, le=599)]
    content_type: Annotated[str, Field(pattern=r"^[ -~]+$")] = "application/json"
    body: JsonValue


class ProgramTransport(httpx.BaseTransport):
    """A transport for `httpx.Client` that starts a program for each request.

    The program reads one object on standard input, `{"method", "path"}` with `body` (or `raw_body`, a text, for
    characters that are not clean JSON), writes one object `{"status", "content_type"?, "body"}` on standard output
    and ends with exit status 0. At the client's read limit it is killed with all it started.
    """

    def __init__(self, command: Sequence[str]) -> None:
        """Take the program and its arguments; no shell is involved."""
        self._command = tuple(command)

    def handle_request(self, request: httpx.Request) -> httpx.Response:
        """Ask the program; raises what `httpx` raises where there is no answer, with the program's last words."""
        limit = request.extensions.get("timeout", {}).get("read")
        with tempfile.TemporaryFile() as question:
            question.write(_envelope(request).encode())
            question.seek(0)
            try:
                process = subprocess.Popen(
                    self._command,
                    stdin=question,
                    stdout=subprocess.PIPE,
                    stderr=subprocess.PIPE,
                    start_new_session=True,  # so that what it starts can be killed with it
                )
            except OSError as error:
                raise httpx.ConnectError(f"the program cannot be started: {error}", request=request) from None
        written, last_line = _finish(process, limit, request)
        return _read(written, last_line, request)


def _envelope(request: httpx.Request) -> str:
    members = [f'"method": {json.dumps(request.method)}', f'"path": {json.dumps(request.url.path)}']
    text = request.content.decode()
    if text:
        try:
            strict_json(text)
            members.append(f'"body": {text}')
        except ValueError:
            members.append(f'"raw_body": {json.dumps(text)}')
    return f"{{{', '.join(members)}}}\n"


def _finish(
    process: subprocess.Popen[bytes], limit: float | None, request: httpx.Request
) -> tuple[bytes, str]:
    assert process.stdout is not None
    assert process.stderr is not None
    answer = _Reader(process.stdout, most=LARGEST_ANSWER, on_more=lambda: _kill(process))
    words = _Reader(process.stderr, most=_LAST_WORDS)
    try:
        status: int | None = process.wait(limit)
    except subprocess.TimeoutExpired:
        status = None
        _kill(process)
        process.wait()
    if not (answer.ended() and words.ended()):
        _kill(process)  # something it started has outlived it and holds its output open
        answer.ended()
    last_line = _last_line(bytes(words.kept))
    if answer.had_more:
        told = f"the program was killed after {LARGEST_ANSWER} bytes of output; {last_line}"
        raise httpx.RemoteProtocolError(told, request=request)
    if status is None:
        raise httpx.ReadTimeout(f"the program was killed after {limit:g} s; {last_line}", request=request)
    if status != 0:
        ended = f"was ended by signal {-status}" if status < 0 else f"ended with exit status {status}"
        raise httpx.RemoteProtocolError(f"the program {ended}; {last_line}", request=request)
    return bytes(answer.kept), last_line


def _read(written: bytes, last_line: str, request: httpx.Request) -> httpx.Response:
    try:
        answer = _Answer.model_validate(strict_json(written.decode()))
    except ValueError as error:
        told = (
            f"the program ended with exit status 0, but its output is no answer: {_why(error)}; {last_line}"
        )
        raise httpx.RemoteProtocolError(told, request=request) from None
    headers = {"content-type": answer.content_type}
    return httpx.Response(answer.status, headers=headers, content=json.dumps(answer.body).encode())


def _why(error: ValueError) -> str:
    if not isinstance(error, ValidationError):
        return f"not JSON ({error})"
    places = (("/".join(map(str, one["loc"])) or "the whole", one["msg"]) for one in error.errors())
    return "; ".join(f"{place}: {message}" for place, message in places)


class _Reader:
    """Drains a pipe in a thread, so that the program never waits for us, and keeps its last bytes."""

    def __init__(self, pipe: IO[bytes], *, most: int, on_more: Callable[[], None] = lambda: None) -> None:
        self.kept = bytearray()
        self.had_more = False
        self._most = most
        self._on_more = on_more
        self._thread = threading.Thread(target=self._drain, args=(pipe,), daemon=True)
        self._thread.start()

    def ended(self) -> bool:
        """Wait a little for the end of the pipe."""
        self._thread.join(_SECONDS_TO_END)
        return not self._thread.is_alive()

    def _drain(self, pipe: IO[bytes]) -> None:
        with pipe:
            while part := os.read(pipe.fileno(), 65536):
                self.kept += part
                if len(self.kept) > self._most:
                    del self.kept[: -self._most]
                    self.had_more = True
                    self._on_more()


def _kill(process: subprocess.Popen[bytes]) -> None:
    with suppress(ProcessLookupError, PermissionError):
        if os.name == "posix":
            os.killpg(process.pid, signal.SIGKILL)
        else:
            process.kill()


def _last_line(words: bytes) -> str:
    lines = words.decode(errors="replace").strip().splitlines()
    return f"last line on standard error: {lines[-1].strip()}" if lines else "nothing on standard error"
