"""The service over HTTP: its capacity as a share of the floor's, and its latencies at half and nine tenths of its capacity."""

from __future__ import annotations

from collections import Counter
from statistics import median
from typing import NamedTuple

import load
from requests_sent import bodies, is_bad, with_bad_ones
from server import OURS, plain, server

SHARES_OF_CAPACITY = (0.5, 0.9)


class OverHttp(NamedTuple):
    """What one question takes over HTTP."""

    share_of_floor: float
    """By the processor's time of one worker for a request, so that others on the machine, and the sender, do not count."""
    requests_per_second: float
    latencies: dict[float, tuple[float, float]]
    """p50 and p99 by share of capacity, each as a multiple of the mean time for one request at full load."""

    def __str__(self) -> str:
        loads = ", ".join(
            f"at {100 * share:.0f} % of capacity p50 {p50:.1f} and p99 {p99:.1f} request-times"
            for share, (p50, p99) in self.latencies.items()
        )
        return f"{self.share_of_floor:.3f} of the floor, {1000 / self.requests_per_second:.2f} ms a request; {loads}"


def over_http(question: str, rounds: int, count: int) -> OverHttp:
    """Measure one question, floor and service interleaved.

    Args:
        question: its name.
        rounds: how often.
        count: requests in each round.

    Raises:
        RuntimeError: a good request was not answered with 200, or a bad one not with 422.
    """
    good = bodies(question, count)
    path = f"/v1/{question}"
    sent = [load.message(path, body) for body in good]
    mixed = [load.message(path, body) for body in with_bad_ones(good)]
    wanted = Counter(422 if is_bad(index) else 200 for index in range(count))
    ratios, rates = [], []
    latencies: dict[float, list[tuple[float, float]]] = {share: [] for share in SHARES_OF_CAPACITY}
    with server(plain("floor:app")) as floor, server(OURS) as ours:
        load.full(floor.port, sent[:50])
        load.full(ours.port, sent[:50])
        for _ in range(rounds):
            before_floor, before_ours = floor.processor_s(), ours.processor_s()
            load.full(floor.port, sent)
            capacity = _checked(load.full(ours.port, mixed), wanted).requests_per_second
            rates.append(capacity)
            ratios.append((floor.processor_s() - before_floor) / (ours.processor_s() - before_ours))
            for share, found in latencies.items():
                paced = _checked(load.paced(ours.port, mixed, share * capacity), wanted)
                found.append((paced.latency_s(0.50) * capacity, paced.latency_s(0.99) * capacity))
    return OverHttp(
        median(ratios),
        median(rates),
        {
            share: (median(p50 for p50, _ in found), median(p99 for _, p99 in found))
            for share, found in latencies.items()
        },
    )


def _checked(measured: load.Measured, wanted: Counter[int]) -> load.Measured:
    if measured.statuses != wanted:
        raise RuntimeError(f"answers by status were {dict(measured.statuses)}, not {dict(wanted)}")
    return measured
