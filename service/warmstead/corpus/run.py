"""Put the cases to a service and gather what agreed."""

from __future__ import annotations

import time
from concurrent.futures import ThreadPoolExecutor, as_completed
from dataclasses import replace
from typing import TYPE_CHECKING

import httpx

from warmstead.corpus.compare import Check, compare
from warmstead.corpus.report import Outcome, Report, Result
from warmstead.corpus.rewrite import UnmappableError
from warmstead.corpus.translate import Outgoing, Translator, as_it_is

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from warmstead.corpus.case import Case
    from warmstead.corpus.mapping import LeftOut, Mapping


def run(
    cases: Iterable[Case],
    client: httpx.Client,
    concurrency: int = 1,
    *,
    mapping: Mapping | None = None,
    fail_fast: bool = False,
    on_result: Callable[[Result], None] = lambda result: None,
) -> Report:
    """Send each case's request and compare the answer.

    Args:
        cases: from `load`.
        client: its base address is the service's; its time limit is the limit for each case.
        concurrency: requests under way at once, 1 or more.
        mapping: for a service that names things differently.
        fail_fast: ask no further once a case has failed or got no answer.
        on_result: called with each result as it comes, in the thread of the caller.

    A service that is dead or too slow is reported as such, never as a wrong value.
    """
    if concurrency < 1:
        raise ValueError(f"concurrency is 1 or more, not {concurrency}")
    asked = _Asked(client, mapping)
    cases = tuple(cases)
    results: dict[int, Result] = {}
    workers = ThreadPoolExecutor(max_workers=concurrency)
    try:
        waiting = {workers.submit(asked.ask, case): place for place, case in enumerate(cases)}
        for future in as_completed(waiting):
            result = results[waiting[future]] = future.result()
            on_result(result)
            if fail_fast and result.outcome in ("failed", "no_answer"):
                break
    finally:
        workers.shutdown(cancel_futures=True)
    in_order = tuple(results[place] for place in sorted(results))
    return Report(in_order, not_reached=len(cases) - len(results))


class _Asked:
    """A service, and how it is spoken to."""

    def __init__(self, client: httpx.Client, mapping: Mapping | None) -> None:
        self._client = client
        self._mapping = mapping
        self._translator = None if mapping is None else Translator(mapping)

    def ask(self, case: Case) -> Result:
        """Put one case to the service."""
        if self._translator is not None and (reason := self._translator.why_not_asked(case)):
            return Result(case, "not_asked", reason=reason)
        started = time.perf_counter()
        outcome: Outcome = "no_answer"
        try:
            checks = self._checks(case)
            outcome = "passed" if all(check.passed for check in checks) else "failed"
        except UnmappableError as error:
            checks = (_no_answer(f"none in our words: {error}"),)
        except httpx.TimeoutException as error:
            checks = (_no_answer(f"none within the time limit: {_told(error)}"),)
        except httpx.RequestError as error:
            checks = (_no_answer(f"none: {_told(error)}"),)
        result = Result(case, outcome, checks, time.perf_counter() - started)
        return result if self._mapping is None else _excused(result, self._mapping.left_out_with(case))

    def _checks(self, case: Case) -> tuple[Check, ...]:
        outgoing = as_it_is(case) if self._translator is None else self._translator.request(case)
        response, content = self._send(outgoing)
        if self._translator is not None:
            content = self._translator.answer(case, response.status_code, content)
        return compare(case, response.status_code, response.headers, content)

    def _send(self, outgoing: Outgoing) -> tuple[httpx.Response, bytes]:
        headers = {"accept": "application/json"}
        if outgoing.content is not None:
            headers["content-type"] = "application/json"
        limit = self._client.timeout.read
        deadline = None if limit is None else time.monotonic() + limit
        content = bytearray()
        with self._client.stream(
            outgoing.method, outgoing.path, content=outgoing.content, headers=headers
        ) as response:
            # The client's limit is for each read: an answer that drips would never reach it.
            for part in response.iter_bytes():
                content += part
                if deadline is not None and time.monotonic() > deadline:
                    raise httpx.ReadTimeout(f"the answer was not complete after {limit:g} s")
        return response, bytes(content)


def _excused(result: Result, left_out: LeftOut | None) -> Result:
    if left_out is None:
        return result
    if result.outcome != "passed":
        return replace(result, outcome="left_out", reason=left_out.reason)
    if result.case.id in left_out.ids:
        told = Check(
            "mapping", "what it leaves out to fail", "it passes: take the id off the list", passed=False
        )
        return replace(result, outcome="failed", checks=(*result.checks, told))
    return result


def _no_answer(got: str) -> Check:
    return Check("service", "an answer", got, passed=False)


def _told(error: httpx.RequestError) -> str:
    return str(error) or type(error).__name__
