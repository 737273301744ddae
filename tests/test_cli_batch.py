"""`warmstead batch`: a housing stock, whatever happens on the way."""

from __future__ import annotations

import gzip
import json
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import psutil
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from click.testing import CliRunner, Result

from warmstead import cli
from warmstead.exchange.asking import ask

COMMAND = [sys.executable, "-m", "warmstead.cli"]
MANY = 24_000
"""Walls that take some seconds, in 24 parts."""


def wall(u_value: float) -> dict[str, Any]:
    return {"construction": {"kind": "declared", "u_value_w_m2k": u_value, "source": "invented"}}


def u_value_of(number: int) -> float:
    return 1 + number / 100_000


def write_walls(path: Path, count: int) -> Path:
    """Write walls that each have a U-value of their own."""
    with path.open("w", encoding="utf-8") as file:
        for number in range(1, count + 1):
            file.write(json.dumps({"id": f"wall-{number}", **wall(u_value_of(number))}) + "\n")
    return path


def assert_nothing_lost_nothing_twice(output: Path, count: int) -> None:
    rows = [json.loads(line) for line in output.read_bytes().splitlines()]
    assert [row["line"] for row in rows] == list(range(1, count + 1))
    assert [row["id"] for row in rows] == [f"wall-{number}" for number in range(1, count + 1)]
    # A declared U-value is taken as it is given.
    assert [row["answer"]["u_value_w_m2k"] for row in rows] == [u_value_of(n) for n in range(1, count + 1)]


def batch(*arguments: Any) -> Result:
    return CliRunner().invoke(
        cli.main, ["batch", *map(str, arguments), "--question", "u-value", "--workers", "1"]
    )


@pytest.fixture
def mixed(tmp_path: Path) -> Path:
    """Lines of which some are bad."""
    path = tmp_path / "mixed.ndjson"
    good = json.dumps({"id": "good", **wall(1.4)})
    path.write_text(f"{good}\n{{\n\n{json.dumps({'id': 'bad', **wall(-1)})}\n{good}\n", encoding="utf-8")
    return path


# --- Forms ----------------------------------------------------------------------------------------


def test_each_document_gets_its_answer_or_its_problem(mixed: Path, tmp_path: Path) -> None:
    result = batch(mixed, tmp_path / "out.ndjson")
    assert result.exit_code == 1, result.output
    assert "4 documents: 2 answered, 2 refused" in result.stderr
    rows = [json.loads(line) for line in (tmp_path / "out.ndjson").read_bytes().splitlines()]
    assert [(row["line"], row["status"], row.get("id")) for row in rows] == [
        (1, 200, "good"),
        (2, 400, None),
        (4, 422, "bad"),
        (5, 200, "good"),
    ]
    assert rows[0]["answer"] == rows[3]["answer"] == ask("u-value", wall(1.4))
    assert rows[2]["problem"]["errors"][0]["pointer"] == "/construction/u_value_w_m2k"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["mixed.ndjson", "out.ndjson"]


def test_compressed_lines_in_and_out(tmp_path: Path) -> None:
    source = tmp_path / "walls.ndjson.gz"
    source.write_bytes(gzip.compress(write_walls(tmp_path / "walls.ndjson", 2500).read_bytes()))
    assert batch(source, tmp_path / "out.jsonl.gz").exit_code == 0
    (tmp_path / "out.ndjson").write_bytes(gzip.decompress((tmp_path / "out.jsonl.gz").read_bytes()))
    assert_nothing_lost_nothing_twice(tmp_path / "out.ndjson", 2500)


@pytest.mark.parametrize("ids", [["a", "b", None], [7, 8, 9], None])
def test_tables_in_and_out(ids: list[Any] | None, tmp_path: Path) -> None:
    columns: dict[str, list[Any]] = {
        "document": [json.dumps(wall(1.4)), "{", json.dumps({**wall(2), "id": "own"})]
    }
    if ids is not None:
        columns["id"] = ids
    pq.write_table(pa.table(columns), tmp_path / "walls.parquet")
    assert batch(tmp_path / "walls.parquet", tmp_path / "whole.parquet").exit_code == 1
    rows = pq.read_table(tmp_path / "whole.parquet").to_pylist()
    names = [None, None] if ids is None else [str(own) for own in ids[:2]]
    assert [(row["line"], row["status"], row["id"]) for row in rows] == [
        (1, 200, names[0]),
        (2, 400, names[1]),
        (3, 200, "own"),
    ]
    assert json.loads(rows[0]["answer"]) == ask("u-value", wall(1.4))
    assert json.loads(rows[1]["problem"])["status"] == 400
    assert rows[0]["problem"] is rows[1]["answer"] is None


def test_totals_have_columns_of_their_own(tmp_path: Path) -> None:
    write_walls(tmp_path / "walls.ndjson", 2300)
    assert (
        batch(
            tmp_path / "walls.ndjson", tmp_path / "out", "--as", "parquet", "--content", "summary"
        ).exit_code
        == 0
    )
    made = pq.read_table(tmp_path / "out")
    assert made.column("line").to_pylist() == list(range(1, 2301))
    assert made.column("u_value_w_m2k").to_pylist() == [u_value_of(n) for n in range(1, 2301)]
    assert made.schema.field("u_value_w_m2k").type == pa.float64()
    assert made.column("stated")[0].as_py() == ask("u-value", wall(u_value_of(1)))["stated"]
    assert "workings" not in made.schema.names


def test_a_folder_of_documents(tmp_path: Path) -> None:
    folder = tmp_path / "walls"
    folder.mkdir()
    for name, u_value in (("north", 1.0), ("south", 2.0)):
        (folder / f"{name}.json").write_text(json.dumps(wall(u_value), indent=2), encoding="utf-8")
    assert batch(folder, tmp_path / "out.ndjson").exit_code == 0
    rows = [json.loads(line) for line in (tmp_path / "out.ndjson").read_bytes().splitlines()]
    assert [(row["id"], row["answer"]["u_value_w_m2k"]) for row in rows] == [("north", 1.0), ("south", 2.0)]


def test_an_invented_stock_can_be_tried(tmp_path: Path) -> None:
    stock = CliRunner().invoke(cli.main, ["stock", "--houses", "3", "--seed", "5"])
    (tmp_path / "stock.ndjson").write_text(stock.output, encoding="utf-8")
    arguments = [str(tmp_path / "stock.ndjson"), str(tmp_path / "out.ndjson"), "--question", "house-loss"]
    assert CliRunner().invoke(cli.main, ["batch", *arguments, "--workers", "1"]).exit_code == 0
    rows = [json.loads(line) for line in (tmp_path / "out.ndjson").read_bytes().splitlines()]
    houses = [json.loads(line) for line in stock.output.splitlines()]
    assert [row["answer"] for row in rows] == [
        ask("house-loss", {"house": house["house"]}) for house in houses
    ]


# --- Wrong use ------------------------------------------------------------------------------------


def test_what_cannot_be_done_ends_with_status_2_and_a_word_why(tmp_path: Path, monkeypatch: Any) -> None:
    walls = write_walls(tmp_path / "walls.ndjson", 1)
    table = tmp_path / "walls.parquet"
    pq.write_table(pa.table({"json": ["{}"]}), table)
    (tmp_path / "there.ndjson").write_text("", encoding="utf-8")
    (tmp_path / "empty").mkdir()
    out = tmp_path / "out.ndjson"
    for arguments, why in (
        ((tmp_path / "none.ndjson", out), "does not exist"),
        ((walls, tmp_path / "there.ndjson"), "--overwrite"),
        ((walls, tmp_path / "out.csv"), ".parquet"),
        ((table, out), "no column document"),
        ((walls, out, "--from", "parquet"), "no Parquet table"),
        ((tmp_path / "empty", out), "no file whose name ends in .json"),
        (
            (walls, tmp_path / "nowhere" / "below" / "out.ndjson", "--cluster", "tcp://127.0.0.1:9"),
            "--workers",
        ),
    ):
        result = batch(*arguments)
        assert result.exit_code == 2, (arguments, result.output)
        assert why in result.stderr.replace("\n", " "), result.stderr
        assert "Traceback" not in result.stderr
    assert not out.exists()


@pytest.mark.parametrize(("module", "extra"), [("pyarrow", "parquet"), ("distributed", "cluster")])
def test_a_missing_extra_is_named(module: str, extra: str, tmp_path: Path, monkeypatch: Any) -> None:
    walls = write_walls(tmp_path / "walls.ndjson", 1)
    monkeypatch.setitem(sys.modules, module, None)
    monkeypatch.delitem(sys.modules, "warmstead.exchange.batch.parquet", raising=False)
    more = {
        "parquet": [str(walls), "--from", "parquet"],
        "cluster": [str(walls), "--cluster", "tcp://127.0.0.1:9"],
    }
    arguments = ["batch", *more[extra], str(tmp_path / "out.ndjson"), "--question", "u-value"]
    result = CliRunner().invoke(cli.main, arguments)
    assert result.exit_code == 2
    assert f"warmstead[{extra}]" in result.stderr


def test_no_heavy_library_is_loaded_for_lines() -> None:
    code = "import sys, warmstead.cli, warmstead.exchange.batch.job; print([m for m in ('pyarrow', 'distributed') if m in sys.modules])"
    assert (
        subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
        == "[]\n"
    )


# --- Whatever happens on the way ------------------------------------------------------------------


class Run:
    """The command in a process of its own."""

    def __init__(self, source: Path, output: Path, *more: str) -> None:
        arguments = ["batch", str(source), str(output), "--question", "u-value", *more]
        self.done = output.with_name(f"{output.name}.parts") / "done.ndjson"
        self._process = subprocess.Popen([*COMMAND, *arguments], stderr=subprocess.PIPE, text=True)
        self.process = psutil.Process(self._process.pid)

    def parts_done(self) -> int:
        return self.done.read_bytes().count(b"}") if self.done.exists() else 0

    def wait_for_parts(self, count: int) -> None:
        until = time.monotonic() + 60
        while self.parts_done() < count:
            assert self._process.poll() is None, self._process.communicate()
            assert time.monotonic() < until
            time.sleep(0.01)

    def end(self) -> tuple[int, str]:
        _, said = self._process.communicate(timeout=300)
        return self._process.returncode, said

    def workers(self) -> list[psutil.Process]:
        return [child for child in self.process.children() if "spawn_main" in " ".join(child.cmdline())]


@pytest.fixture(scope="module")
def walls(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_walls(tmp_path_factory.mktemp("walls") / "walls.ndjson", MANY)


def test_a_run_that_is_killed_goes_on_where_it_was(walls: Path, tmp_path: Path) -> None:
    output = tmp_path / "out.ndjson"
    first = Run(walls, output, "--workers", "2")
    first.wait_for_parts(4)
    workers = first.workers()
    assert len(workers) == 2
    first.process.kill()
    assert first.end()[0] == -signal.SIGKILL
    _, alive = psutil.wait_procs(workers, timeout=20)
    assert alive == [], "workers outlive the run that began them"
    assert not output.exists()
    second = Run(walls, output, "--workers", "2")
    second.wait_for_parts(8)
    second.process.send_signal(signal.SIGINT)
    status, said = second.end()
    assert status in (0, 2), said  # 0: a quick machine was done before the signal came
    assert "goes on from here" in said
    assert "Traceback" not in said
    assert not output.exists()
    status, said = Run(walls, output, "--workers", "2").end()
    assert status == 0, said
    taken_over = int(said.split(" (")[1].split(" by an earlier run")[0].replace(",", ""))
    assert 8000 <= taken_over < MANY
    assert_nothing_lost_nothing_twice(output, MANY)
    assert [path.name for path in tmp_path.iterdir()] == ["out.ndjson"]


def test_a_worker_that_is_killed_costs_nothing(walls: Path, tmp_path: Path) -> None:
    output = tmp_path / "out.ndjson"
    run = Run(walls, output, "--workers", "2")
    run.wait_for_parts(2)
    run.workers()[0].kill()
    status, said = run.end()
    assert status == 0, said
    assert_nothing_lost_nothing_twice(output, MANY)


@pytest.fixture
def cluster(tmp_path: Path) -> Iterator[tuple[str, list[subprocess.Popen[bytes]]]]:
    """A Dask scheduler and two workers, each a process of its own, as an operator begins them."""
    address_file = tmp_path / "scheduler.json"

    def begin(program: str, *arguments: str) -> subprocess.Popen[bytes]:
        command = [sys.executable, "-m", f"distributed.cli.{program}", *arguments, "--no-dashboard"]
        quiet = subprocess.DEVNULL
        return subprocess.Popen(command, cwd=tmp_path, stdout=quiet, stderr=quiet)

    scheduler = begin(
        "dask_scheduler", "--host", "127.0.0.1", "--port", "0", "--scheduler-file", str(address_file)
    )
    until = time.monotonic() + 60
    while not address_file.exists() and time.monotonic() < until:
        time.sleep(0.05)
    time.sleep(0.2)
    address = json.loads(address_file.read_text(encoding="utf-8"))["address"]
    own = ("--nthreads", "1", "--no-nanny", "--local-directory")
    workers = [begin("dask_worker", address, *own, str(tmp_path / f"worker-{number}")) for number in range(2)]
    try:
        yield address, workers
    finally:
        for process in (*workers, scheduler):
            process.kill()
            process.wait()


def test_a_cluster_that_loses_a_worker_loses_nothing(walls: Path, tmp_path: Path, cluster: Any) -> None:
    address, workers = cluster
    output = tmp_path / "out.ndjson"
    run = Run(walls, output, "--cluster", address)
    run.wait_for_parts(4)
    assert all(worker.poll() is None for worker in workers)
    at_kill = run.parts_done()
    workers[0].kill()
    status, said = run.end()
    assert status == 0, said
    assert at_kill < MANY // 1000 - 4, "killed midway"
    assert_nothing_lost_nothing_twice(output, MANY)


def test_no_cluster_is_told(walls: Path, tmp_path: Path, monkeypatch: Any) -> None:
    monkeypatch.setattr("warmstead.exchange.batch.pools.CONNECT_SECONDS", 1)
    arguments = ["batch", str(walls), str(tmp_path / "out.ndjson"), "--question", "u-value"]
    result = CliRunner().invoke(cli.main, [*arguments, "--cluster", "tcp://127.0.0.1:9"])
    assert result.exit_code == 2
    assert "no cluster with a worker at tcp://127.0.0.1:9" in result.stderr
