"""The parts of a run, each by itself."""

from __future__ import annotations

import gzip
import json
from collections.abc import Callable
from concurrent.futures import Future
from concurrent.futures.process import BrokenProcessPool
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from warmstead.demo.stock import housing_stock
from warmstead.exchange.batch import parts as cutting
from warmstead.exchange.batch.job import MOST_TRIES, OtherVersion, answer_part, run
from warmstead.exchange.batch.ledger import LIST, Done, Ledger
from warmstead.exchange.batch.parts import Asked, key_of, parts
from warmstead.exchange.batch.pools import PoolFailed
from warmstead.exchange.batch.sources import FolderSource, LineSource, Unreadable, form_of, source_of
from warmstead.exchange.batch.stating import Item, state
from warmstead.exchange.documents import read_mapping
from warmstead.questions.registry import QUESTIONS

ASKED = Asked("u-value", "full", "ndjson", 10_000)


def wall(u_value: float) -> bytes:
    construction = {"kind": "declared", "u_value_w_m2k": u_value, "source": "invented"}
    return json.dumps({"construction": construction}).encode()


def stock(path: Path, count: int) -> Path:
    path.write_bytes(b"".join(wall(1 + number / 1e6) + b"\n" for number in range(count)))
    return path


class OwnPool:
    """A pool that works at once, in this process; some pieces of work break it."""

    window = 3

    def __init__(self, breaks: Callable[[list[Item]], bool] = lambda items: False) -> None:
        self.breaks = breaks
        self.begun = 1
        self.closed = False

    def submit(self, work: Callable[..., Any], *arguments: Any) -> Future[Any]:
        future: Future[Any] = Future()
        if self.breaks(arguments[1]):
            future.set_exception(BrokenProcessPool())
        else:
            future.set_result(work(*arguments))
        return future

    def begin_again(self) -> None:
        self.begun += 1

    def close(self) -> None:
        self.closed = True


def test_a_fault_of_ours_costs_one_document_and_is_logged_without_it(
    monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def broken(request: Any, *, workings: bool = False) -> Any:
        raise ZeroDivisionError("1.4 over nothing")

    monkeypatch.setattr(QUESTIONS["u-value"], "answer", broken)
    stated = state("u-value", Item(1, wall(1.4)), "full", 1000)
    assert stated.status == 500
    assert b"1.4" not in stated.line()
    assert "ZeroDivisionError" in caplog.text
    assert "1.4 over" not in caplog.text.replace('raise ZeroDivisionError("1.4 over nothing")', "")


# --- Sources --------------------------------------------------------------------------------------


def test_the_form_of_a_file_is_in_its_name(tmp_path: Path) -> None:
    assert form_of(Path("a.ndjson")) == form_of(Path("a.jsonl.gz")) == "ndjson"
    assert form_of(Path("a.parquet")) == "parquet"
    for name in ("a.json", "a", "a.parquet.gz", "a.gz"):
        with pytest.raises(Unreadable, match=r"\.ndjson"):
            form_of(Path(name))
    assert isinstance(source_of(stock(tmp_path / "walls", 1), "ndjson", 100), LineSource)


def test_a_compressed_file_is_read_as_it_is(tmp_path: Path) -> None:
    plain = stock(tmp_path / "a.ndjson", 5)
    compressed = tmp_path / "a.ndjson.gz"
    compressed.write_bytes(gzip.compress(plain.read_bytes()))
    items = [item for item, _ in LineSource(compressed, 1000).items()]
    assert items == [item for item, _ in LineSource(plain, 1000).items()]
    assert len(items) == 5
    compressed.write_bytes(gzip.compress(plain.read_bytes())[:-20])
    with pytest.raises(Unreadable, match="cannot be read on"):
        list(LineSource(compressed, 1000).items())


def test_how_much_was_read_only_grows_to_the_size(tmp_path: Path) -> None:
    source = LineSource(stock(tmp_path / "a.ndjson", 10_000), 1000)
    read = [read for _, read in source.items()]
    assert all(first <= second for first, second in pairwise(read))
    assert read[-1] == source.size


def test_a_folder_gives_its_files_by_name(tmp_path: Path) -> None:
    for name, text in (("b.json", b"2"), ("a.json", b"1"), ("c.txt", b"3"), ("d.json", b"x" * 11)):
        (tmp_path / name).write_bytes(text)
    items = [item for item, _ in FolderSource(tmp_path, 10).items()]
    assert items == [Item(1, b"1", "a"), Item(2, b"2", "b"), Item(3, None, "d")]
    (tmp_path / "nothing").mkdir()
    with pytest.raises(Unreadable, match=r"\.json"):
        FolderSource(tmp_path / "nothing", 10)


def test_the_document_s_own_id_goes_before_the_file_s(tmp_path: Path) -> None:
    own = json.dumps({"id": "own", **json.loads(wall(1.4))}).encode()
    assert state("u-value", Item(1, own, "file"), "full", 1000).id == "own"
    assert state("u-value", Item(1, wall(1.4), "file"), "full", 1000).id == "file"
    assert state("u-value", Item(1, b"{", "file"), "full", 1000).id == "file"


# --- Parts ----------------------------------------------------------------------------------------


def test_parts_hold_every_document_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cutting, "MOST_ITEMS", 7)
    source = LineSource(stock(tmp_path / "a.ndjson", 100), 1000)
    made = list(parts(source, ASKED))
    assert [item for part in made for item in part.items] == [item for item, _ in source.items()]
    assert [part.number for part in made] == list(range(15))
    monkeypatch.setattr(cutting, "MOST_ITEMS", 1000)
    monkeypatch.setattr(cutting, "MOST_BYTES", 500)
    assert [item for part in parts(source, ASKED) for item in part.items] == [
        item for item, _ in source.items()
    ]


def test_a_key_changes_with_all_that_an_answer_depends_on() -> None:
    items = [Item(1, b"ab"), Item(2, b"c")]
    changes: dict[str, Any] = {
        "question": "house-loss",
        "content": "summary",
        "form": "parquet",
        "longest": 1,
        "version": "0",
        "tables": "0",
    }
    others = [key_of(ASKED._replace(**{name: value}), items) for name, value in changes.items()]
    others += [
        key_of(ASKED, changed)
        for changed in (
            [Item(1, b"ax"), Item(2, b"c")],
            [Item(1, b"a"), Item(2, b"bc")],
            [Item(1, b"ab"), Item(3, b"c")],
            [Item(1, b"ab", "id"), Item(2, b"c")],
            [Item(1, b"ab"), Item(2, None)],
            [Item(1, b"ab")],
        )
    ]
    assert len({key_of(ASKED, items), *others}) == len(others) + 1
    assert key_of(ASKED, items) == key_of(Asked(*ASKED), list(items))


# --- Ledger ---------------------------------------------------------------------------------------


def test_what_is_kept_is_there_again_and_what_was_cut_off_is_not(tmp_path: Path) -> None:
    output = tmp_path / "out.ndjson"
    ledger = Ledger(output)
    ledger.keep(Done("a", 1, 0), b"A")
    ledger.keep(Done("b", 2, 1), b"B")
    ledger.keep(Done("c", 3, 0), b"C")
    ledger.path("b").unlink()
    with (ledger.folder / LIST).open("ab") as file:
        file.write(b'{"key":"d","ite')
    again = Ledger(output)
    assert [again.done(key) for key in "abcd"] == [Done("a", 1, 0), None, Done("c", 3, 0), None]
    again.keep(Done("e", 4, 0), b"E")
    once_more = Ledger(output)
    assert once_more.done("a") == Done("a", 1, 0)
    assert once_more.done("e") == Done("e", 4, 0), "the line after one that was cut off counts"


# --- A run ----------------------------------------------------------------------------------------


@pytest.fixture
def small_parts(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cutting, "MOST_ITEMS", 10)


def numbers(output: Path) -> list[int]:
    return [json.loads(line)["line"] for line in output.read_bytes().splitlines()]


@pytest.mark.usefixtures("small_parts")
def test_a_process_that_breaks_costs_nothing(tmp_path: Path) -> None:
    broken: list[int] = []

    def breaks(items: list[Item]) -> bool:
        if items[0].number in (21, 61) and items[0].number not in broken:
            broken.append(items[0].number)
            return True
        return False

    pool = OwnPool(breaks)
    source = LineSource(stock(tmp_path / "a.ndjson", 95), 1000)
    counted = run(source, ASKED, tmp_path / "out.ndjson", pool, lambda counted: None)
    assert numbers(tmp_path / "out.ndjson") == list(range(1, 96))
    assert (counted.items, counted.refused, counted.taken_over) == (95, 0, 0)
    assert pool.begun == 3
    assert pool.closed


@pytest.mark.usefixtures("small_parts")
def test_a_document_that_breaks_every_process_ends_the_run_which_then_goes_on(tmp_path: Path) -> None:
    source = LineSource(stock(tmp_path / "a.ndjson", 95), 1000)
    output = tmp_path / "out.ndjson"
    pool = OwnPool(lambda items: items[0].number == 51)
    with pytest.raises(PoolFailed, match="51 to 60"):
        run(source, ASKED, output, pool, lambda counted: None)
    assert pool.begun == MOST_TRIES
    assert pool.closed
    assert not output.exists()
    counted = run(source, ASKED, output, OwnPool(), lambda counted: None)
    assert numbers(output) == list(range(1, 96))
    assert counted.taken_over >= 30
    assert sorted(path.name for path in tmp_path.iterdir()) == ["a.ndjson", "out.ndjson"]


@pytest.mark.usefixtures("small_parts")
def test_a_changed_document_is_answered_anew_and_the_others_are_not(tmp_path: Path) -> None:
    path = stock(tmp_path / "a.ndjson", 95)
    output = tmp_path / "out.ndjson"
    with pytest.raises(PoolFailed):
        run(
            LineSource(path, 1000),
            ASKED,
            output,
            OwnPool(lambda items: items[0].number == 91),
            lambda counted: None,
        )
    lines = path.read_bytes().splitlines()
    lines[14] = wall(7)
    path.write_bytes(b"\n".join(lines))
    counted = run(LineSource(path, 1000), ASKED, output, OwnPool(), lambda counted: None)
    assert counted.taken_over == 80
    got = [json.loads(line)["answer"]["u_value_w_m2k"] for line in output.read_bytes().splitlines()]
    assert got == [json.loads(line)["construction"]["u_value_w_m2k"] for line in lines]


def test_a_worker_of_another_version_does_no_work() -> None:
    with pytest.raises(OtherVersion, match="not 0"):
        answer_part(ASKED._replace(version="0"), [Item(1, wall(1.4))])


# --- The invented stock ---------------------------------------------------------------------------


def test_an_invented_stock_is_answered_and_says_what_it_is() -> None:
    houses = list(housing_stock(20))
    assert houses == list(housing_stock(20))
    assert houses != list(housing_stock(20, seed=2))
    answers = [
        state("house-loss", Item(1, json.dumps(house).encode()), "summary", 100_000) for house in houses
    ]
    assert [answer.status for answer in answers] == [200] * 20
    assert len({answer.answer["design_heat_load_w"] for answer in answers if answer.answer}) == 20
    for house in houses:
        assert "invented" in house["id"]
        assert "invented" in house["house"]["name"]
        read_mapping(QUESTIONS["house-loss"].request, {"house": house["house"]})
