"""Constructions with layers added to one side: ISO 6946 anew where the layers are known, a sum of resistances where not."""

from __future__ import annotations

from typing import NamedTuple

from warmstead.building.annex import NationalAnnex
from warmstead.building.constructions import resolve
from warmstead.building.findings import Findings, code_of
from warmstead.building.layered import resolve_layered
from warmstead.standards.errors import MethodError
from warmstead.survey.constructions import (
    BasementWall,
    Construction,
    Corrections,
    Declared,
    HeatFlow,
    Layer,
    Layered,
    ResistanceLayer,
    Typical,
)
from warmstead.survey.measures import AddLayers
from warmstead.tables import table

HEAT_FLOW_OF_ELEMENT: dict[str, HeatFlow] = {"roof": "upwards", "floor": "downwards"}
"""Heat flow through what a row of the table `typical-constructions` is for; walls and the rest are horizontal."""


class Added(NamedTuple):
    """A construction with new layers."""

    construction: Construction
    by_resistance: bool
    """Whether the layers' resistance was added to a total that is known without its layers."""


def with_layers(
    construction: Construction,
    action: AddLayers,
    name: str,
    annex: NationalAnnex,
    findings: Findings,
    at: str,
) -> Added | None:
    """Return a construction with an action's layers, or None with a problem noted.

    Args:
        construction: what is there.
        action: the layers and their side.
        name: what tells this action's layers from all others, for their paths.
        annex: the national annex.
        findings: where problems and warnings go.
        at: JSON pointer of the action.
    """
    if construction.kind == "layered":
        return Added(_layered(construction, action, name), by_resistance=False)
    if construction.kind == "window":
        findings.refuse("not_allowed_here", at, "a window takes no layers: use replace_construction")
        return None
    if any(layer.kind == "air" and layer.ventilation != "unventilated" for layer in action.layers):
        detail = "a ventilated air layer needs the layers beside it: only on a layered construction"
        findings.refuse("not_covered", f"{at}/layers", detail)
        return None
    if construction.kind == "ground_floor":
        if action.side == "outside":
            detail = (
                "layers are added to the inside of a ground floor only; for the rest use replace_construction"
            )
            findings.refuse("not_allowed_here", f"{at}/side", detail)
            return None
        flow: HeatFlow = "horizontal" if isinstance(construction, BasementWall) else "downwards"
        member = (
            "wall_resistance_m2k_w" if isinstance(construction, BasementWall) else "floor_resistance_m2k_w"
        )
        rest: float = getattr(construction, member)
        added = _added_resistance(action, rest, flow, True, findings, at)
        if added is None:
            return None
        return Added(construction.model_copy(update={member: rest + added}), by_resistance=True)
    before = resolve(construction, "outside", annex, Findings(), at)
    if before is None:
        return None
    total = 1.0 / before.u_value_w_m2k
    resistance = _added_resistance(action, total, _heat_flow(construction), False, findings, at)
    if resistance is None:
        return None
    after = 1.0 / (total + resistance)
    source = f"{after:.4g} W/(m²·K) after layers of {resistance:.4g} m²·K/W"
    # Not validated: a U-value may fall under what can be sent.
    return Added(
        Declared.model_construct(kind="declared", u_value_w_m2k=after, source=source), by_resistance=True
    )


def is_wall(construction: Construction) -> bool:
    """Whether layers on the inside of this take floor area: it is known to stand upright."""
    if construction.kind == "layered":
        return construction.heat_flow == "horizontal"
    if construction.kind == "typical":
        row = table("typical-constructions").by_id(construction.row)
        return row is not None and row["element"] == "wall"
    return isinstance(construction, BasementWall)


def thickness_m(action: AddLayers) -> float | None:
    """Return the thickness of an action's layers together, m; None where one of them has none."""
    total = 0.0
    for layer in action.layers:
        if layer.kind == "resistance":
            return None
        total += layer.maximum_thickness_mm if layer.kind == "tapered" else layer.thickness_mm
    return total / 1000.0


def _layered(construction: Layered, action: AddLayers, name: str) -> Layered:
    layers = [_with_own_paths(layer, name) for layer in action.layers]
    if action.side == "outside":
        return construction.model_copy(update={"layers": [*construction.layers, *layers]})
    return construction.model_copy(
        update={
            "layers": [*layers, *construction.layers],
            "corrections": _shifted(construction.corrections, len(layers)),
        }
    )


def _with_own_paths(layer: Layer, name: str) -> Layer:
    """Keep a path that is named here from being taken for one of the same name in the old layers or other measures."""
    bridges = getattr(layer, "bridges", None)
    if not bridges or all(bridge.path is None for bridge in bridges):
        return layer
    own = [
        bridge if bridge.path is None else bridge.model_copy(update={"path": f"{name}/{bridge.path}"})
        for bridge in bridges
    ]
    return layer.model_copy(update={"bridges": own})


def _shifted(corrections: Corrections | None, by: int) -> Corrections | None:
    """Return corrections that point at the same layers after new ones have come before them."""
    if corrections is None:
        return None
    changed: dict[str, object] = {}
    if corrections.air_gaps is not None:
        changed["air_gaps"] = corrections.air_gaps.model_copy(
            update={"layer": corrections.air_gaps.layer + by}
        )
    if corrections.fasteners is not None:
        changed["fasteners"] = [
            fastener.model_copy(update={"layer": fastener.layer + by}) for fastener in corrections.fasteners
        ]
    if corrections.inverted_roof is not None:
        roof = corrections.inverted_roof
        changed["inverted_roof"] = roof.model_copy(update={"layer": roof.layer + by})
    return corrections.model_copy(update=changed)


def _heat_flow(construction: Declared | Typical) -> HeatFlow:
    if construction.kind == "declared":
        return "horizontal"
    row = table("typical-constructions").by_id(construction.row)
    return "horizontal" if row is None else HEAT_FLOW_OF_ELEMENT.get(str(row["element"]), "horizontal")


def _added_resistance(
    action: AddLayers, rest_m2k_w: float, heat_flow: HeatFlow, surfaces: bool, findings: Findings, at: str
) -> float | None:
    """Return by how much an action's layers raise a total resistance of which no layers are known, m²K/W.

    The rest counts as one layer without bridges, so that bridged new layers are weighed beside it (ISO 6946, 6.7.2).

    Args:
        action: the layers.
        rest_m2k_w: resistance of what is there.
        heat_flow: direction of heat flow.
        surfaces: whether the internal surface is still to be added to the rest.
        findings: where problems and warnings go.
        at: JSON pointer of the action.
    """
    rest = ResistanceLayer.model_construct(kind="resistance", resistance_m2k_w=rest_m2k_w)
    component = Layered.model_construct(
        kind="layered",
        heat_flow=heat_flow,
        layers=[*action.layers, rest],
        internal_surface_resistance_m2k_w=None if surfaces else 0.0,
        external_surface_resistance_m2k_w=0.0,
    )
    apart = Findings()
    try:
        both = resolve_layered(component, "outside", apart, at)
        alone = resolve_layered(component.model_copy(update={"layers": [rest]}), "outside", Findings(), at)
    except MethodError as error:
        findings.refuse(code_of(error), f"{at}/layers", str(error))
        return None
    for problem in apart.problems:
        findings.refuse(problem.code, problem.pointer, problem.detail)
    if both is None or alone is None:
        return None
    for warning in apart.warnings():
        # What is not about the new layers is about a component that was never sent.
        own = warning["pointer"].startswith(f"{at}/layers/")
        findings.warn(warning["code"], warning["pointer"] if own else at, warning["detail"])
    return 1.0 / both.u_value_w_m2k - 1.0 / alone.u_value_w_m2k
