"""A service whose limits are narrow."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from .running import Service, serving


@pytest.fixture(scope="session")
def tight(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Service]:
    """Return a service whose every limit is soon crossed."""
    with serving(
        tmp_path_factory.mktemp("tight"),
        body_bytes_at_hand=12 * 1024 * 1024,
        maximum_header_bytes=4096,
        seconds_to_send_headers=1,
        seconds_to_send_body=1,
        seconds_to_take_answer=1,
        seconds_between_requests=1,
        connections_at_once=20,
        requests_at_once=6,
        long_questions_at_once=1,
        long_questions_waiting=1,
        seconds_waiting_for_a_turn=1,
        seconds_for_a_question=3,
    ) as service:
        yield service
