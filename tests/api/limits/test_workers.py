"""Processes that do long work: ended in time, told truly why, replaced, and renewed."""

from __future__ import annotations

import asyncio
import errno
import operator
import os
import signal
import tempfile
import time
from collections.abc import Awaitable, Callable, Iterator, Sequence
from typing import Any

import psutil
import pytest

from warmstead.api.workers import Bounds, Ended, NoTurn, OverMemory, OverTime, Workers, WorkFailed

Made = Callable[..., Workers]
BOUNDS = Bounds(
    at_once=2,
    waiting=1,
    waiting_seconds=30,
    seconds=60,
    memory_mebibytes=1024,
    before_renewal=100,
    preloaded=(),
)


@pytest.fixture
def made() -> Iterator[Made]:
    pools: list[Workers] = []

    def make(**changes: Any) -> Workers:
        pools.append(Workers(BOUNDS._replace(**changes)))
        return pools[-1]

    yield make
    for pool in pools:
        pool.close()


def run(work: Awaitable[Any]) -> Any:
    async def main() -> Any:
        return await work

    return asyncio.run(main())


def gone(process: int) -> bool:
    deadline = time.monotonic() + 30
    while psutil.pid_exists(process) and psutil.Process(process).status() != psutil.STATUS_ZOMBIE:
        if time.monotonic() > deadline:
            return False
        time.sleep(0.02)
    return True


def test_work_is_done_in_another_process_which_is_kept(made: Made) -> None:
    pool = made()

    async def twice() -> list[int]:
        return [await pool.do(os.getpid) for _ in range(2)]

    first, second = run(twice())
    assert first == second != os.getpid()


def test_a_system_without_room_for_a_process_is_busy(made: Made, monkeypatch: pytest.MonkeyPatch) -> None:
    pool = made()
    with monkeypatch.context() as patched:
        patched.setattr("multiprocessing.context.BaseContext.Pipe", _no_descriptors)
        with pytest.raises(NoTurn):
            run(pool.do(os.getpid))
    assert run(pool.do(os.getpid)) != os.getpid()


def _no_descriptors(*_: Any, **__: Any) -> Any:
    raise OSError(errno.EMFILE, "too many open files")


def test_a_forking_process_killed_while_it_forks_is_replaced(made: Made) -> None:
    pool = made()
    forking = psutil.Process(psutil.Process(run(pool.do(os.getpid))).ppid())

    async def killed_half_way() -> None:
        forking.suspend()
        both = [asyncio.create_task(pool.do(time.sleep, 1)), asyncio.create_task(pool.do(os.getpid))]
        await asyncio.sleep(0.5)
        forking.kill()
        await asyncio.gather(*both)

    with pytest.raises(NoTurn):
        run(killed_half_way())
    assert run(pool.do(os.getpid)) != os.getpid()


def test_work_past_its_time_is_ended(made: Made) -> None:
    pool = made(seconds=1.0)
    process = run(pool.do(os.getpid))
    started = time.monotonic()
    with pytest.raises(OverTime):
        run(pool.do(time.sleep, 600))
    assert time.monotonic() - started < 30
    assert gone(process)
    assert run(pool.do(os.getpid)) != process


def test_work_is_ended_when_it_is_not_wanted_any_more(made: Made) -> None:
    pool = made()

    async def given_up() -> int:
        process: int = await pool.do(os.getpid)
        task = asyncio.create_task(pool.do(time.sleep, 600))
        await asyncio.sleep(0.2)
        task.cancel()
        await asyncio.wait((task,))
        return process

    assert gone(run(given_up()))


def test_work_past_its_memory_is_ended(made: Made) -> None:
    pool = made()
    process = run(pool.do(os.getpid))
    with pytest.raises(OverMemory):
        run(pool.do(bytearray, 2 * 1024**3))
    assert gone(process)
    assert len(run(pool.do(bytearray, 64 * 1024**2))) == 64 * 1024**2


def test_a_library_that_aborts_for_want_of_memory_is_told_from_one_that_crashes(made: Made) -> None:
    pool = made()
    with pytest.raises(OverMemory):
        run(pool.do(exec, "import os; os.write(2, b'memory allocation of 64 bytes failed'); os.abort()"))
    with pytest.raises(Ended) as ended:
        run(pool.do(os.abort))
    assert ended.value.exit_status == -signal.SIGABRT


def test_a_process_killed_from_outside_is_told_and_replaced(made: Made) -> None:
    pool = made()

    async def killed() -> None:
        process = await pool.do(os.getpid)
        task = asyncio.create_task(pool.do(time.sleep, 600))
        await asyncio.sleep(0.2)
        os.kill(process, signal.SIGKILL)
        await task

    with pytest.raises(Ended) as ended:
        run(killed())
    assert ended.value.exit_status == -signal.SIGKILL
    assert run(pool.do(operator.add, 1, 1)) == 2


def test_a_process_that_died_while_it_had_nothing_to_do_is_replaced(made: Made) -> None:
    pool = made()
    process = run(pool.do(os.getpid))
    os.kill(process, signal.SIGKILL)
    assert gone(process)
    assert run(pool.do(os.getpid)) != process


def test_an_error_is_told_by_its_kind_and_never_by_its_words(made: Made) -> None:
    pool = made()
    with pytest.raises(WorkFailed) as failed:
        run(pool.do(int, "a secret"))
    assert str(failed.value).startswith("ValueError")
    assert "secret" not in str(failed.value)
    assert run(pool.do(operator.add, 1, 1)) == 2


def test_signals_to_the_group_do_not_end_work_at_hand(made: Made) -> None:
    pool = made()

    async def signalled() -> int:
        process = await pool.do(os.getpid)
        task = asyncio.create_task(pool.do(time.sleep, 1))
        await asyncio.sleep(0.3)
        os.kill(process, signal.SIGTERM)
        os.kill(process, signal.SIGINT)
        await task
        return process - await pool.do(os.getpid)

    assert run(signalled()) == 0


def test_starts_that_nobody_waited_for_leave_no_process_too_many(made: Made) -> None:
    pool = made(at_once=1)

    async def impatient() -> int:
        for _ in range(8):
            task = asyncio.create_task(pool.do(os.getpid))
            await asyncio.sleep(0.01)
            task.cancel()
            await asyncio.wait((task,))
        await asyncio.sleep(5)
        deadline = time.monotonic() + 60
        while len(_long_work()) > before + 1 and time.monotonic() < deadline:
            await asyncio.sleep(0.5)
        return len(_long_work())

    before = len(_long_work())
    assert run(impatient()) <= before + 1


def _long_work() -> list[psutil.Process]:
    me = psutil.Process()
    return [child for child in me.children(recursive=True) if child.ppid() != me.pid]


def test_more_work_waits_for_its_turn_or_is_refused(made: Made) -> None:
    pool = made(at_once=1, waiting=1)

    async def three() -> list[Any]:
        await pool.do(os.getpid)
        tasks = []
        for _ in range(3):
            tasks.append(asyncio.create_task(pool.do(time.sleep, 1)))
            await asyncio.sleep(0.1)
        return await asyncio.gather(*tasks, return_exceptions=True)

    first, second, third = run(three())
    assert first is None
    assert second is None
    assert isinstance(third, NoTurn)


def test_a_turn_that_does_not_come_in_time_is_refused(made: Made) -> None:
    pool = made(at_once=1, waiting_seconds=0.3)

    async def two() -> Sequence[Any]:
        first = asyncio.create_task(pool.do(time.sleep, 3))
        await asyncio.sleep(0.1)
        return await asyncio.gather(first, pool.do(os.getpid), return_exceptions=True)

    first, second = run(two())
    assert first is None
    assert isinstance(second, NoTurn)


def test_a_process_is_renewed_and_nothing_is_left_behind(made: Made) -> None:
    pool = made(before_renewal=3)

    async def many() -> list[int]:
        return [await pool.do(os.getpid) for _ in range(30)]

    run(many())
    files = psutil.Process().num_fds()
    processes = run(many())
    assert len(set(processes)) == 10
    assert all(gone(process) for process in processes[:-3])
    assert psutil.Process().num_fds() <= files + 5


def test_where_nothing_can_be_written_work_is_done_all_the_same(
    made: Made, monkeypatch: pytest.MonkeyPatch
) -> None:
    def none() -> str:
        raise FileNotFoundError

    monkeypatch.setattr(tempfile, "gettempdir", none)
    pool = made(seconds=5.0)
    process = run(pool.do(os.getpid))
    assert psutil.Process(process).ppid() == os.getpid(), "started by this process, not forked by another"
    with pytest.raises(OverTime):
        run(pool.do(time.sleep, 600))
    assert gone(process)


def test_what_work_leaves_in_memory_goes_with_its_process(made: Made) -> None:
    pool = made(at_once=1, before_renewal=5)
    leaking = "import sys; sys.kept = getattr(sys, 'kept', []) + [bytearray(20 * 2**20)]"

    async def many() -> list[int]:
        sizes = []
        for _ in range(30):
            await pool.do(exec, leaking)
            sizes.append(psutil.Process(await pool.do(os.getpid)).memory_info().rss)
        return sizes

    # 30 × 20 MiB would be 600; five at most are kept, of which each second piece of work leaves one.
    sizes = run(many())
    assert max(sizes) - min(sizes) < 150 * 2**20
