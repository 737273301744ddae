"""A layered construction by numbered parameters: `layer_1_…` at the inside, at most ten layers, one bridge in each.

What a layer is follows from what is said of it: a resistance alone, an air layer by its ventilation, solid otherwise.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from typing import Any, Literal

from warmstead.exchange.cells.parameters import Parameter, Value, parameter
from warmstead.exchange.cells.query import ParameterProblem
from warmstead.survey.constructions import AirLayer, Bridge, Layered, ResistanceLayer, SolidLayer
from warmstead.survey.document import Document

MOST_LAYERS = 10
"""Layers of a flat request; with a bridge in each the address stays under 2,048 characters. POST takes 50."""

Kind = Literal["solid", "resistance", "air"]

_MEMBERS: dict[str, tuple[type[Document], str, str]] = {
    "thickness_mm": (SolidLayer, "thickness_mm", "Thickness; of an air layer up to 300 mm."),
    "conductivity_w_mk": (
        SolidLayer,
        "conductivity_w_mk",
        "Thermal conductivity of a solid layer; or `material`.",
    ),
    "material": (
        SolidLayer,
        "material",
        "Row id of the table `materials`, for a solid layer; or `conductivity_w_mk`.",
    ),
    "resistance_m2k_w": (
        ResistanceLayer,
        "resistance_m2k_w",
        "A layer known by its thermal resistance alone.",
    ),
    "ventilation": (AirLayer, "ventilation", "Makes the layer an air layer."),
    "emissivity": (
        AirLayer,
        "emissivity",
        "Emissivity of an air layer's more reflective face; 0.9 where absent.",
    ),
    "openings_mm2_per_m": (AirLayer, "openings_mm2_per_m", "Openings to outside of a vertical air layer."),
    "openings_mm2_per_m2": (
        AirLayer,
        "openings_mm2_per_m2",
        "Openings to outside of a horizontal air layer.",
    ),
    "bridge_fraction": (
        Bridge,
        "fraction",
        "Share of the layer's area that conducts otherwise: studs, joists, mortar.",
    ),
    "bridge_conductivity_w_mk": (
        Bridge,
        "conductivity_w_mk",
        "Thermal conductivity of that share; or `bridge_material`.",
    ),
    "bridge_material": (Bridge, "material", "Row id of the table `materials` for that share."),
}
_OF_AIR = frozenset({"ventilation", "emissivity", "openings_mm2_per_m", "openings_mm2_per_m2"})
_OF_SOLIDS = frozenset({"conductivity_w_mk", "material"})
_WHOLE = (
    "heat_flow",
    "external_side",
    "internal_surface_resistance_m2k_w",
    "external_surface_resistance_m2k_w",
    "edition",
)
_NAME = re.compile(r"layer_([0-9]{1,2})_([a-z0-9_]+)", re.ASCII)


def construction_parameters() -> tuple[Parameter, ...]:
    """Return the parameters of a layered construction."""
    return (
        *(parameter(Layered, member) for member in _WHOLE),
        *(
            parameter(
                model,
                member,
                name=f"layer_{number}_{suffix}",
                description=f"Layer {number} from the inside. {text}",
                required=False,
            )
            for number in range(1, MOST_LAYERS + 1)
            for suffix, (model, member, text) in _MEMBERS.items()
        ),
    )


def construction(
    values: Mapping[str, Value], names: Collection[str], problems: list[ParameterProblem]
) -> dict[str, Any]:
    """Return the construction that the parameters stand for, as the POST takes it.

    Args:
        values: what could be read, by parameter.
        names: every parameter that was given, those included that could not be read.
        problems: where is noted what does not go together.
    """
    document: dict[str, Any] = {"kind": "layered"}
    document.update({name: values[name] for name in _WHOLE if name in values})
    said = _by_layer(names)
    document["layers"] = [
        _layer(number, said[number], values, problems)
        for number in range(1, max(said, default=0) + 1)
        if number in said
    ]
    for number in range(1, max(said, default=1) + 1):
        if number not in said:
            detail = "no layer is given" if not said else f"layer {max(said)} is given, but no layer {number}"
            problems.append(
                ParameterProblem(
                    f"layer_{number}_thickness_mm",
                    "missing_field",
                    f"{detail}; layers count from 1 at the inside",
                )
            )
    return document


def kind_of(said: Collection[str]) -> Kind:
    """Return what a layer is, by what is said of it."""
    if "resistance_m2k_w" in said:
        return "resistance"
    return "solid" if _OF_AIR.isdisjoint(said) else "air"


def layers_said(names: Collection[str]) -> dict[int, Kind]:
    """Return which layers are given, and what each is."""
    return {number: kind_of(said) for number, said in _by_layer(names).items()}


def parameter_of(tokens: list[str], names: Collection[str]) -> str:
    """Return the parameter behind a place in the construction.

    Args:
        tokens: steps of the pointer below `/construction`.
        names: every parameter that was given.
    """
    if len(tokens) < 2 or tokens[0] != "layers":
        return tokens[0] if tokens and tokens[0] in _WHOLE else _first("layer_", names)
    start = f"layer_{int(tokens[1]) + 1}_"
    if len(tokens) == 2:
        return _first(start, names)
    if tokens[2] == "bridges":
        return f"{start}bridge_{tokens[4] if len(tokens) > 4 else 'fraction'}"
    return start + tokens[2]


def _first(start: str, names: Collection[str]) -> str:
    return next((name for name in names if name.startswith(start)), "layer_1_thickness_mm")


def _by_layer(names: Collection[str]) -> dict[int, list[str]]:
    said: dict[int, list[str]] = {}
    for name in names:
        parts = _NAME.fullmatch(name)
        if parts is not None and parts.group(2) in _MEMBERS and 1 <= int(parts.group(1)) <= MOST_LAYERS:
            said.setdefault(int(parts.group(1)), []).append(parts.group(2))
    return said


def _layer(
    number: int, said: list[str], values: Mapping[str, Value], problems: list[ParameterProblem]
) -> dict[str, Any]:
    kind = kind_of(said)
    layer: dict[str, Any] = {"kind": kind}
    bridge: dict[str, Value] = {}
    for suffix in said:
        name = f"layer_{number}_{suffix}"
        refusal = _does_not_belong(kind, suffix, number)
        if refusal is not None:
            problems.append(ParameterProblem(name, "not_allowed_here", refusal))
        elif name in values:
            model, member, _ = _MEMBERS[suffix]
            (bridge if model is Bridge else layer)[member] = values[name]
    if any(suffix.startswith("bridge_") for suffix in said) and kind != "resistance":
        layer["bridges"] = [bridge]
    return layer


def _does_not_belong(kind: Kind, suffix: str, number: int) -> str | None:
    """Say why something cannot be said of a layer of that kind, None where it can."""
    if kind == "resistance" and suffix != "resistance_m2k_w":
        return f"layer_{number}_resistance_m2k_w says all there is of that layer: leave out one or the other"
    if kind == "air" and suffix in _OF_SOLIDS:
        return f"layer {number} is an air layer, which has no conductivity of its own"
    return None
