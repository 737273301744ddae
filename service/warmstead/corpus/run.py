"""Put the cases to a service and gather what agreed."""

from __future__ import annotations

import json
import time
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING

import httpx

from warmstead.corpus.compare import Check, compare
from warmstead.corpus.report import Report, Result

if TYPE_CHECKING:
    from collections.abc import Iterable

    from warmstead.corpus.case import Case


def run(cases: Iterable[Case], client: httpx.Client, concurrency: int = 1) -> Report:
    """Send each case's request and compare the answer.

    Args:
        cases: from `load`.
        client: its base address is the service's; its time limit is the limit for each case.
        concurrency: requests under way at once, 1 or more.

    A service that is dead or too slow is reported as such, never as a wrong value.
    """
    if concurrency < 1:
        raise ValueError(f"concurrency is 1 or more, not {concurrency}")
    with ThreadPoolExecutor(max_workers=concurrency) as workers:
        return Report(tuple(workers.map(lambda case: _ask(case, client), cases)))


def _ask(case: Case, client: httpx.Client) -> Result:
    request = case.request
    headers = {"accept": "application/json"}
    if request.method == "POST":
        headers["content-type"] = "application/json"
    content = json.dumps(request.body, allow_nan=False) if request.body is not None else request.raw_body
    started = time.perf_counter()
    try:
        response = client.request(request.method, request.path, content=content, headers=headers)
        checks = compare(case, response.status_code, response.headers, response.content)
        answered = True
    except httpx.TimeoutException as error:
        checks, answered = (_no_answer(f"no answer within the time limit ({type(error).__name__})"),), False
    except httpx.TransportError as error:
        checks, answered = (_no_answer(f"no answer: {type(error).__name__}: {error}"),), False
    return Result(case, checks, answered, time.perf_counter() - started)


def _no_answer(got: str) -> Check:
    return Check("service", "an answer", got, passed=False)
