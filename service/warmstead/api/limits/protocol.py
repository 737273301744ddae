"""uvicorn's HTTP protocol, with an end to what it would wait for or keep without end.

The ASGI application sees a request only when its head is whole, and cannot see that an answer is not taken. Here a head that
never ends, a connection that sends nothing and a client that does not read are cut off; everything else stays uvicorn's.
"""

from __future__ import annotations

import asyncio
from typing import Any, cast

from uvicorn.protocols.http.httptools_impl import STATUS_LINE, HttpToolsProtocol, RequestResponseCycle

from warmstead.api.draining import is_draining
from warmstead.api.limits.gate import AHEAD, too_large_head
from warmstead.api.limits.receiving import BODY_IS_THERE
from warmstead.api.observing import metrics
from warmstead.api.problems import PROBLEM_JSON, problem
from warmstead.api.replies import CLOSE, Reply, busy
from warmstead.api.settings import SETTINGS

LAST_CALL_SECONDS = 0.5
"""An unused connection stays open so long after the service has stopped taking new ones."""


class LimitedProtocol(HttpToolsProtocol):
    """One connection."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._in_head = True
        self._head_bytes = 0
        self._sending_timer: asyncio.TimerHandle | None = None
        self._reading_timer: asyncio.TimerHandle | None = None
        self._served: RequestResponseCycle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]  # as uvicorn's own
        """Begin to wait for a request."""
        super().connection_made(transport)
        if len(self.connections) > SETTINGS.connections_at_once:
            self._answer_and_close(busy("too many connections"))
        else:
            self._await_head()

    def connection_lost(self, exc: Exception | None) -> None:
        """Give up all waiting."""
        self._timer_is_off()
        self.resume_writing()
        if self._served is not None:
            # uvicorn tells the request that came last; of several sent at once, another may be the one that is answered.
            self._served.disconnected = True
            self._served.message_event.set()
        super().connection_lost(exc)

    def data_received(self, data: bytes) -> None:
        """Take what the client sent."""
        if self.transport.is_closing():
            return
        if self._in_head:
            self._head_bytes += len(data)
        super().data_received(data)
        if self._in_head and self._head_bytes:
            if self._head_bytes > SETTINGS.maximum_header_bytes:
                self._answer_and_close(too_large_head())
            elif self._sending_timer is None:
                self._await_head()

    def on_headers_complete(self) -> None:
        """Hand the request to the application."""
        self._in_head = False
        self._timer_is_off()
        super().on_headers_complete()

    def on_message_complete(self) -> None:
        """Wait for the next request."""
        super().on_message_complete()
        _scope(self.cycle)[BODY_IS_THERE] = True
        self._timer_is_off()
        self._in_head = True
        self._head_bytes = 0

    def on_response_complete(self) -> None:
        """A request may be answered, because it is refused, before its body is there: the rest is read and dropped."""
        super().on_response_complete()
        if not self._in_head and self._sending_timer is None and not self.transport.is_closing():
            self._sending_timer = self.loop.call_later(SETTINGS.seconds_to_send_body, self._close)

    def pause_writing(self) -> None:
        """The client does not take what is written."""
        super().pause_writing()
        self._reading_timer = self.loop.call_later(SETTINGS.seconds_to_take_answer, self.transport.abort)

    def resume_writing(self) -> None:
        """The client takes it again."""
        super().resume_writing()
        if self._reading_timer is not None:
            self._reading_timer.cancel()
            self._reading_timer = None

    def timeout_keep_alive_handler(self) -> None:
        """Close a connection that is not used."""
        self._close()

    def shutdown(self) -> None:
        """The server ends: a request that is just on its way is still answered."""
        if self.cycle is None or self.cycle.response_complete:
            self.loop.call_later(LAST_CALL_SECONDS if is_draining() else 0, super().shutdown)
        else:
            super().shutdown()

    def send_400_response(self, msg: str) -> None:
        """Answer what is not HTTP."""
        self._answer_and_close(Reply(400, PROBLEM_JSON, problem(400, "this is not HTTP/1.1")))

    def _start_asgi_task(self, cycle: RequestResponseCycle, app: Any) -> None:
        self._served = cycle
        _scope(cycle)[AHEAD] = len(self.tasks)
        super()._start_asgi_task(cycle, app)

    def _await_head(self) -> None:
        self._sending_timer = self.loop.call_later(SETTINGS.seconds_to_send_headers, self._head_overdue)

    def _timer_is_off(self) -> None:
        if self._sending_timer is not None:
            self._sending_timer.cancel()
            self._sending_timer = None

    def _head_overdue(self) -> None:
        if self.cycle is not None and not self.cycle.response_complete:
            self._await_head()  # while the request before it is answered, the connection is not read
        elif self._head_bytes:
            detail = f"the headers were not whole after {SETTINGS.seconds_to_send_headers:g} s"
            self._answer_and_close(Reply(408, PROBLEM_JSON, problem(408, detail)))
        else:
            self._close()

    def _answer_and_close(self, reply: Reply) -> None:
        """Answer past the application, which has not seen a request."""
        if self.transport.is_closing():
            return
        if self.cycle is None or self.cycle.response_complete:
            headers = [
                ("content-type", reply.media_type),
                ("content-length", str(len(reply.body))),
                *[header for header in reply.headers if header not in CLOSE],
                *CLOSE,
            ]
            head = b"".join(f"{name}: {value}\r\n".encode() for name, value in headers)
            self.transport.write(STATUS_LINE[reply.status] + head + b"\r\n" + reply.body)
            metrics.refused(reply.body)
        self._close()

    def _close(self) -> None:
        """Close when everything is written; a client that reads nothing would keep the connection for good, so not for long."""
        self.transport.close()
        self.loop.call_later(SETTINGS.seconds_to_take_answer, self.transport.abort)


def _scope(cycle: RequestResponseCycle) -> dict[str, Any]:
    """Return a request's scope, to which the protocol adds what only it knows."""
    return cast("dict[str, Any]", cycle.scope)
