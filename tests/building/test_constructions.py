"""Constructions that are not layers: typical rows, declared values, windows and their panels."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

import warmstead
from warmstead.tables import table

Json = dict[str, Any]
Make = Callable[..., Any]

BY_THICKNESS = "wall-granite-thickness-rdsap-2012"
WINDOW: Json = {
    "kind": "window",
    "glazing_area_m2": 1.2,
    "frame_area_m2": 0.3,
    "u_glazing_w_m2k": 1.1,
    "u_frame_w_m2k": 1.5,
    "glazing_perimeter_m": 4.6,
    "psi_glazing_w_mk": 0.06,
}


def ask(construction: Json) -> Json:
    answer: Json = warmstead.u_value({"construction": construction})
    return answer


def test_a_typical_row_by_thickness() -> None:
    # the row's own formula: 3.3 − 0.002 · thickness, RdSAP 2012 section S5.1.1 as the table cites it (not seen again here)
    answer = ask({"kind": "typical", "row": BY_THICKNESS, "thickness_mm": 400})
    assert answer["u_value_w_m2k"] == pytest.approx(3.3 - 0.002 * 400)
    assert answer["stated"] == "2.50"


@pytest.mark.parametrize(
    ("changes", "member", "code"),
    [
        ({"row": BY_THICKNESS}, "thickness_mm", "incomplete"),
        ({"row": BY_THICKNESS, "thickness_mm": 199}, "thickness_mm", "not_covered"),
        ({"row": BY_THICKNESS, "thickness_mm": 1201}, "thickness_mm", "not_covered"),
        ({"row": "no-such-row"}, "row", "not_found"),
        ({"row": "PLAIN", "thickness_mm": 300}, "thickness_mm", "not_allowed_here"),
    ],
)
def test_a_typical_row_says_whether_it_goes_by_thickness(
    changes: Json, member: str, code: str, refused: Make
) -> None:
    if changes["row"] == "PLAIN":
        plain = next(row for row in table("typical-constructions").rows if "u_value_w_m2k" in row)
        changes = changes | {"row": plain["id"]}
    assert refused(warmstead.u_value, {"construction": {"kind": "typical", **changes}}) == [
        (f"/construction/{member}", code)
    ]


def test_every_typical_row_has_an_answer_and_tells_of_memory(warned: Make) -> None:
    for row in table("typical-constructions").rows:
        typical = {"kind": "typical", "row": row["id"]}
        if "u_value_w_m2k" not in row:
            typical["thickness_mm"] = row["minimum_thickness_mm"]
        answer = ask(typical)
        assert answer["u_value_w_m2k"] > 0
        told = warned(answer, "memory.table_row")
        assert told == (["/construction/row"] if row["provenance"] == "from_memory" else [])


def test_a_declared_value_is_taken_as_it_is() -> None:
    answer = ask({"kind": "declared", "u_value_w_m2k": 0.285, "source": "an invented certificate"})
    assert answer["u_value_w_m2k"] == 0.285
    assert answer["stated"] == "0.29"  # a half is rounded up
    assert not {"layers", "total_resistance_m2k_w", "correction_w_m2k"} & set(answer)


def test_a_declared_value_needs_a_source(refused: Make) -> None:
    declared = {"kind": "declared", "u_value_w_m2k": 0.3}
    assert refused(warmstead.u_value, {"construction": declared}) == [
        ("/construction/source", "missing_field")
    ]
    ((pointer, _),) = refused(warmstead.u_value, {"construction": {**declared, "source": ""}})
    assert pointer == "/construction/source"


def test_a_window_from_its_parts() -> None:
    # ISO 10077-1:2017 (from memory): (Ag Ug + Af Uf + lg ψg)/(Ag + Af)
    assert ask(WINDOW)["u_value_w_m2k"] == pytest.approx((1.2 * 1.1 + 0.3 * 1.5 + 4.6 * 0.06) / 1.5)


def test_a_door_with_a_panel() -> None:
    panel = {"panel_area_m2": 0.5, "u_panel_w_m2k": 0.9, "panel_perimeter_m": 3, "psi_panel_w_mk": 0.05}
    parts = 1.2 * 1.1 + 0.3 * 1.5 + 0.5 * 0.9
    assert ask(WINDOW | panel)["u_value_w_m2k"] == pytest.approx((parts + 4.6 * 0.06 + 3 * 0.05) / 2.0)
    del panel["panel_perimeter_m"], panel["psi_panel_w_mk"]
    assert ask(WINDOW | panel)["u_value_w_m2k"] == pytest.approx((parts + 4.6 * 0.06) / 2.0)


@pytest.mark.parametrize(
    "panel",
    [{"panel_area_m2": 0.5}, {"u_panel_w_m2k": 1}, {"panel_perimeter_m": 3}, {"psi_panel_w_mk": 0.1}],
)
def test_a_panel_is_given_whole(panel: Json, refused: Make) -> None:
    ((_, code),) = refused(warmstead.u_value, {"construction": WINDOW | panel})
    assert code == "incomplete"


def test_a_panels_edge_needs_a_panel(refused: Make) -> None:
    edge = {"panel_perimeter_m": 3, "psi_panel_w_mk": 0.1}
    ((_, code),) = refused(warmstead.u_value, {"construction": WINDOW | edge})
    assert code == "incomplete"


@pytest.mark.parametrize("area_m2", [0, 1e-320, 1e-12])
def test_a_window_has_an_area(area_m2: float, refused: Make) -> None:
    window = WINDOW | {"glazing_area_m2": area_m2, "frame_area_m2": 0}
    assert len(refused(warmstead.u_value, {"construction": window})) == 1
