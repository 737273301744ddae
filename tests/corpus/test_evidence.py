"""The page of evidence: what counts, and that the committed page and list of checks are true."""

from __future__ import annotations

import ast
import json
import os
import subprocess
import sys
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import httpx
import numpy as np
import pytest

from warmstead.api.replies import Reply, replied
from warmstead.corpus import InProcessTransport, default_folder, load
from warmstead.corpus.case import Case
from warmstead.corpus.evidence import (
    EvidenceError,
    IndependentCheck,
    bent_result,
    equations,
    evidence_page,
    gather,
    kind_of,
    read_checks,
)
from warmstead.standards import iso_6946

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from starlette.types import Receive

ROOT = Path(__file__).resolve().parents[2]
CHECKS = ROOT / "tests" / "independent" / "checks.json"
PAGE = ROOT / "reference_cases" / "EVIDENCE.md"


@pytest.fixture(scope="module")
def client() -> Iterator[httpx.Client]:
    """Give a client of the service in this process."""
    from warmstead.api.app import app

    with (
        pytest.MonkeyPatch.context() as patch,
        httpx.Client(transport=InProcessTransport(app), base_url="http://service.example") as client,
    ):
        patch.setattr("warmstead.api.questions.worked_on", _worked_on_here)
        yield client


async def _worked_on_here(
    receive: Receive, work: Callable[..., Reply], *arguments: Any, **named: Any
) -> Reply:
    """Take the place of a process of its own, into which a bent equation does not reach."""
    return replied(work, *arguments, **named)


# --- The committed page ----------------------------------------------------------------------------


def test_committed_page_is_the_generated_one(client: httpx.Client) -> None:
    # UPDATE_EVIDENCE=1 writes it.
    page = evidence_page(default_folder(), client, CHECKS)
    if os.environ.get("UPDATE_EVIDENCE"):
        PAGE.write_text(page, encoding="utf-8")
    assert PAGE.read_text(encoding="utf-8") == page


# --- What counts -----------------------------------------------------------------------------------


def case_named(name: str) -> Case:
    (found,) = (case for case in load(default_folder()) if f"{case.question}/{case.id}" == name)
    return found


def noticed(name: str, function: str, client: httpx.Client) -> bool:
    """Whether a case notices when a function is bent."""
    found = {evidence.equation.name: evidence for evidence in gather([case_named(name)], client, [])}
    assert found[function].reached, f"{name} does not reach {function}"
    return bool(found[function].noticed)


def test_a_case_counts_for_what_it_would_notice(client: httpx.Client) -> None:
    wall = "u-value/timber-frame-wall-6b2"
    assert noticed(wall, "iso_6946.total_resistance", client)
    # The coefficient of performance and the lowest temperature of a radiator do not depend on the water's flow.
    assert not noticed("emitter-check/radiator-factor-at-50-k", "water.flow_l_s", client)
    assert noticed("emitter-check/water-flow-of-a-radiator", "water.flow_l_s", client)


def test_equations_are_whole_again_afterwards(client: httpx.Client) -> None:
    before = iso_6946.total_resistance
    gather([case_named("u-value/timber-frame-wall-6b2")], client, [])
    assert iso_6946.total_resistance is before
    from warmstead.building import layered

    assert vars(layered)["iso_6946"].total_resistance is before


def test_a_case_that_fails_as_it_is_proves_nothing(client: httpx.Client) -> None:
    case = case_named("u-value/timber-frame-wall-6b2")
    wrong = case.model_copy(update={"expect": case.expect.model_copy(update={"status": 404, "values": ()})})
    with pytest.raises(EvidenceError, match="fails as it is"):
        gather([wrong], client, [])


def test_check_of_an_equation_that_is_not_there_is_refused(client: httpx.Client) -> None:
    check = IndependentCheck(
        function="iso_6946.nothing", kind="solution", test="tests/x.py::test_y", equation="a = b", by="a book"
    )
    with pytest.raises(EvidenceError, match=r"iso_6946\.nothing, which is not there"):
        gather([], client, [check])


def test_public_functions_and_telling_parts_are_equations() -> None:
    found = {equation.name: equation for equation in equations()}
    assert found["en_14825.LoadLine.at"].public
    assert found["iso_13370.slab_on_ground"].says.startswith("U-value of a slab on ground")
    assert not found["iso_13370._edge_psi"].public
    # What only refuses gives no result; what has no word of its own is part of another.
    assert "iso_6946._above_zero" not in found
    assert "iso_6946._homogeneous" not in found


@pytest.mark.parametrize(
    ("value", "bent"),
    [
        (2.0, 2.2),
        (0.0, 0.1),
        (True, False),
        ("0.30", "0.300"),
        ((1.0, "crosses", None, False), (1.1, "crosses", None, False)),
        ([10.0], [11.0]),
        (iso_6946.AirLayer(1.0, 2.0, 0.0), iso_6946.AirLayer(1.1, 2.2, 0.1)),
    ],
)
def test_what_bending_does(value: Any, bent: Any) -> None:
    # By the rule: a tenth more, 0 to 0.1, truth turned, a text longer, names within a result left alone.
    result = bent_result(value)
    assert type(result) is type(bent)
    if isinstance(bent, str | bool):
        assert result == bent
    else:
        assert (
            result == pytest.approx(bent)
            if isinstance(bent, float)
            else _flat(result) == pytest.approx(_flat(bent))
        )


def test_arrays_are_bent_number_by_number() -> None:
    # By the same rule: a tenth more, 0 to 0.1, truth turned.
    assert bent_result(np.array([0.0, -2.0, 10.0])).tolist() == pytest.approx([0.1, -2.2, 11.0])
    assert bent_result(np.array([True, False])).tolist() == [False, True]


def test_the_page_does_not_depend_on_what_is_imported_already() -> None:
    """An equation is bent also where a question imports its module only when it is asked."""
    code = (
        "import sys; from warmstead.corpus.evidence import gather; gather([], None, []); "
        "print(sum(name.startswith('warmstead.building.uncertainty.') for name in sys.modules))"
    )
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert int(told.stdout) > 3


def _flat(value: Any) -> list[float]:
    return [float(one) for one in value if isinstance(one, float)]


@pytest.mark.parametrize(
    ("provenance", "read_from", "kind"),
    [
        ("published_table", "original", "seen"),
        ("published_example", "transcription", "seen"),
        ("published_table", "memory", "memory"),
        ("hand_derived", "memory", "derived"),
        ("analytical", "none", "library"),
        ("independent_code", "memory", "library"),
        ("common_practice", "none", "practice"),
        ("contract", "original", "contract"),
    ],
)
def test_kind_of_evidence(case_data: dict[str, Any], provenance: str, read_from: str, kind: str) -> None:
    case_data["provenance"] = provenance
    case_data["source"]["read_from"] = read_from
    if provenance == "hand_derived":
        case_data["derivation"] = ["1 + 1 = 2"]
    assert kind_of(Case.model_validate_json(json.dumps(case_data))) == kind


# --- The list of independent checks ----------------------------------------------------------------


class Uses(NamedTuple):
    """What a test's source names, itself or through functions and constants of its module."""

    names: frozenset[str]
    attributes: frozenset[str]


@cache
def uses_in(path: Path) -> dict[str, Uses]:
    """Return for each test of a file the names that it comes to, following what its module defines."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    own: dict[str, Uses] = {}
    for statement in tree.body:
        nodes = [*ast.walk(statement)]
        names = frozenset(node.id for node in nodes if isinstance(node, ast.Name))
        attributes = frozenset(node.attr for node in nodes if isinstance(node, ast.Attribute))
        if isinstance(statement, ast.FunctionDef | ast.ClassDef):
            own[statement.name] = Uses(names, attributes)
        elif isinstance(statement, ast.Assign | ast.AnnAssign):
            targets = statement.targets if isinstance(statement, ast.Assign) else [statement.target]
            own.update(
                {target.id: Uses(names, attributes) for target in targets if isinstance(target, ast.Name)}
            )

    def closed(name: str, seen: set[str]) -> Uses:
        seen.add(name)
        names, attributes = set(own[name].names), set(own[name].attributes)
        for other in sorted(own[name].names & own.keys() - seen):
            more = closed(other, seen)
            names |= more.names
            attributes |= more.attributes
        return Uses(frozenset(names), frozenset(attributes))

    return {name: closed(name, set()) for name in own if name.startswith("test_")}


LISTED = read_checks(CHECKS)


@pytest.mark.parametrize("check", LISTED, ids=[f"{check.function} by {check.test}" for check in LISTED])
def test_listed_check_exists_and_uses_its_function(check: IndependentCheck) -> None:
    path, _, test = check.test.partition("::")
    tests = uses_in(ROOT / path)
    assert test in tests
    function = check.function.rpartition(".")[2]
    assert function in tests[test].names | tests[test].attributes


def test_every_check_is_listed_once() -> None:
    pairs = [(check.function, check.test) for check in LISTED]
    assert len(set(pairs)) == len(pairs)


NOT_OF_AN_EQUATION = {
    # The solver and the libraries themselves, and the tables of the building.
    "test_air.py::test_two_libraries_agree_on_moist_air",
    "test_climate.py::test_temperature_falls_as_in_the_standard_atmosphere",
    "test_climate.py::test_there_are_places_to_check",
    "test_fasteners.py::test_solution_of_a_wall_without_fastener",
}


def test_every_independent_test_is_listed() -> None:
    listed = {check.test for check in LISTED}
    there = {
        f"{path.name}::{test}"
        for path in sorted((ROOT / "tests" / "independent").glob("test_*.py"))
        for test in uses_in(path)
    }
    unlisted = {name for name in there if f"tests/independent/{name}" not in listed}
    assert unlisted == NOT_OF_AN_EQUATION
