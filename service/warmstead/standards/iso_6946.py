"""ISO 6946: thermal resistance and thermal transmittance of components made of layers.

Clauses are those of ISO 6946:2017 unless another edition is named; they are from memory (that fasteners stand
in annex F was read in a catalogue's abstract of the edition). Layers run from inside to outside. A field in
an exception is the argument's name, with its place in the list where it is one of several:
`layers/2/bridges/0/fraction`.

Reference: ISO 6946:2017, Building components and building elements - Thermal resistance and thermal
transmittance - Calculation methods.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from decimal import ROUND_HALF_UP, Decimal
from operator import itemgetter
from typing import TYPE_CHECKING, Literal, NamedTuple

from warmstead.standards.errors import NotPhysical, OutOfScope, check_above_zero, check_not_below_zero

if TYPE_CHECKING:
    from collections.abc import Sequence

HeatFlow = Literal["horizontal", "upwards", "downwards"]
"""Direction of the heat flow; the standard takes a surface steeper than 60° as horizontal flow."""

MAXIMUM_SECTIONS = 128
"""More sections than these are refused: no real component has them, and their number grows as a power."""

STEFAN_BOLTZMANN_W_M2K4 = 5.67e-8
"""As the standard rounds it."""

CONDUCTIVITY_OF_STILL_AIR_W_MK = 0.025

ABSOLUTE_ZERO_C = -273.15

LARGEST_AIR_LAYER_M = 0.3
"""A thicker one is a space with a heat balance of its own, not a layer."""

SMALLEST_SHARE_OF_CORRECTIONS = 0.03

_COMBINED_METHOD = "ISO 6946:2017, 6.7.2"
_HOMOGENEOUS = "ISO 6946:2017, 6.7.1"
_AIR_LAYERS = "ISO 6946:2017, 6.9"
_AIR_LAYER_FORMULA = "ISO 6946:2017, annex D"
_TAPERED = "ISO 6946:2017, annex E"
_CORRECTIONS = "ISO 6946:2017, annex F"


class Bridge(NamedTuple):
    """A material of its own within a layer: its share of the area, its resistance over the layer's thickness.

    Bridges that name the same `path` in different layers are one path through all of them.
    """

    fraction: float
    resistance_m2k_w: float
    path: str | None = None


class Layer(NamedTuple):
    """A layer by its resistance; where it is bridged, the resistance beside the bridges."""

    resistance_m2k_w: float
    bridges: tuple[Bridge, ...] = ()


class Section(NamedTuple):
    """One straight way through the component: its share of the area, and its resistance layer by layer."""

    fraction: float
    resistances_m2k_w: tuple[float, ...]


class TotalResistance(NamedTuple):
    """The total resistance with surfaces, its two limits, and what they were made of."""

    total_m2k_w: float
    upper_m2k_w: float
    lower_m2k_w: float
    relative_error: float
    layer_resistances_m2k_w: tuple[float, ...]
    sections: tuple[Section, ...]


class AirLayer(NamedTuple):
    """An unventilated air layer by the annex's formula, with its two coefficients."""

    resistance_m2k_w: float
    convective_w_m2k: float
    radiative_w_m2k: float


# --- Total resistance -----------------------------------------------------------------------------


def total_resistance(
    layers: Sequence[Layer], internal_surface_m2k_w: float, external_surface_m2k_w: float
) -> TotalResistance:
    """Total resistance of a component of layers, bridged or not (6.7.1 and 6.7.2; clauses from memory).

    Without bridges R_tot = R_si + Σ R + R_se. With bridges it is the mean of two limits: the upper one lets
    heat run straight through each section, 1/R′ = Σ f/R over the sections; the lower one lets it spread
    freely between the layers, 1/R_j = Σ f/R within each layer, R″ = R_si + Σ R_j + R_se. The largest
    relative error is (R′ − R″)/(2 R_tot).

    Bridges of different layers cross independently of each other, so that their shares multiply, unless they
    share a `path`: that is one stud through several layers, counted once. Bridges of one layer lie side by
    side.

    Args:
        layers: from inside to outside; resistances in m²K/W, 0 or more (above 0 in a bridged layer).
        internal_surface_m2k_w: R_si, m²K/W, 0 or more.
        external_surface_m2k_w: R_se, m²K/W, 0 or more.

    Raises:
        NotPhysical: a resistance below 0; shares of a layer that leave nothing beside the bridges; a path
            with different shares, or named twice in a layer; two paths that would both fill the same place;
            no resistance at all.
        OutOfScope: more than `MAXIMUM_SECTIONS` sections.
    """
    check_not_below_zero(internal_surface_m2k_w, "internal_surface_m2k_w", _HOMOGENEOUS)
    check_not_below_zero(external_surface_m2k_w, "external_surface_m2k_w", _HOMOGENEOUS)
    checked = [_checked_layer(layer, index) for index, layer in enumerate(layers)]
    if not any(layer.bridges for layer in checked):
        return _homogeneous(checked, internal_surface_m2k_w, external_surface_m2k_w)
    _check_paths(layers)

    sections = _sections(checked)
    surfaces = internal_surface_m2k_w + external_surface_m2k_w
    upper = 1.0 / sum([fraction / (surfaces + sum(through)) for fraction, through in sections])
    own = tuple([_lower_limit_of_layer(layer) for layer in checked])
    lower = internal_surface_m2k_w + sum(own) + external_surface_m2k_w
    total = (upper + lower) / 2.0
    return TotalResistance(total, upper, lower, (upper - lower) / (2.0 * total), own, sections)


def _homogeneous(
    layers: Sequence[Layer], internal_surface_m2k_w: float, external_surface_m2k_w: float
) -> TotalResistance:
    own = tuple([layer.resistance_m2k_w for layer in layers])
    total = internal_surface_m2k_w + sum(own) + external_surface_m2k_w
    if total <= 0.0:
        raise NotPhysical(
            "a component without any resistance has no U-value",
            field="layers",
            value=total,
            limit="more than 0 m2K/W with surfaces",
            clause=_HOMOGENEOUS,
        )
    return TotalResistance(total, total, total, 0.0, own, (Section(1.0, own),))


def _lower_limit_of_layer(layer: Layer) -> float:
    if not layer.bridges:
        return layer.resistance_m2k_w
    between = 1.0 - sum([fraction for fraction, _, _ in layer.bridges])
    through_bridges = sum([fraction / resistance_m2k_w for fraction, resistance_m2k_w, _ in layer.bridges])
    return 1.0 / (between / layer.resistance_m2k_w + through_bridges)


def _sections(layers: Sequence[Layer]) -> tuple[Section, ...]:
    """Every straight way through the layers, with its share of the area.

    Layer by layer each way so far divides into those through the layer. A path is decided in the first layer
    that names it: a way that took it goes through it again, a way that passed it by finds its place taken
    off, and what is still open in the layer shares the rest in proportion.
    """
    ways: list[tuple[float, tuple[float, ...], frozenset[str]]] = [(1.0, (), frozenset())]
    decided: set[str] = set()
    plain: tuple[float, ...] = ()
    for index, layer in enumerate(layers):
        if not layer.bridges:
            plain = (*plain, layer.resistance_m2k_w)
            continue
        if plain:
            ways = [(share, through + plain, taken) for share, through, taken in ways]
            plain = ()
        again: Sequence[Bridge] = ()
        open_: Sequence[Bridge] = layer.bridges
        if decided:
            again = [bridge for bridge in layer.bridges if bridge.path in decided]
            open_ = [bridge for bridge in layer.bridges if bridge.path not in decided]
        place_left = 1.0 - sum([bridge.fraction for bridge in again])
        between = (1.0 - sum([bridge.fraction for bridge in layer.bridges])) / place_left
        divided: list[tuple[float, tuple[float, ...], frozenset[str]]] = []
        for share, through, taken in ways:
            passing = [bridge for bridge in again if bridge.path in taken] if again else ()
            if passing:
                _check_single_path(passing, index)
                divided.append((share, (*through, passing[0].resistance_m2k_w), taken))
            else:
                divided.append((share * between, (*through, layer.resistance_m2k_w), taken))
                for bridge in open_:
                    paths = taken if bridge.path is None else taken | {bridge.path}
                    part = share * bridge.fraction / place_left
                    divided.append((part, (*through, bridge.resistance_m2k_w), paths))
            _check_number_of_sections(len(divided), index)
        ways = divided
        decided.update([bridge.path for bridge in open_ if bridge.path is not None])
    return tuple([Section(share, through + plain) for share, through, _ in ways])


def _checked_layer(layer: Layer, index: int) -> Layer:
    """The layer itself, or the same without bridges that have no area."""
    if not layer.bridges:
        if not 0.0 <= layer.resistance_m2k_w < math.inf:
            check_not_below_zero(layer.resistance_m2k_w, f"layers/{index}/resistance_m2k_w", _HOMOGENEOUS)
        return layer
    if not 0.0 < layer.resistance_m2k_w < math.inf:
        check_above_zero(layer.resistance_m2k_w, f"layers/{index}/resistance_m2k_w", _COMBINED_METHOD)
    for place, (fraction, resistance_m2k_w, _) in enumerate(layer.bridges):
        if not (0.0 < fraction < math.inf and 0.0 < resistance_m2k_w < math.inf):
            field = f"layers/{index}/bridges/{place}"
            check_not_below_zero(fraction, f"{field}/fraction", _COMBINED_METHOD)
            check_above_zero(resistance_m2k_w, f"{field}/resistance_m2k_w", _COMBINED_METHOD)
    bridged = sum([bridge.fraction for bridge in layer.bridges])
    if bridged >= 1.0:
        raise NotPhysical(
            f"the bridges of layer {index} take {bridged:g} of its area and leave nothing beside them",
            field=f"layers/{index}/bridges",
            value=bridged,
            limit="less than 1 in all",
            clause=_COMBINED_METHOD,
        )
    if 0.0 not in [bridge.fraction for bridge in layer.bridges]:
        return layer
    return Layer(layer.resistance_m2k_w, tuple([bridge for bridge in layer.bridges if bridge.fraction > 0.0]))


def _check_paths(layers: Sequence[Layer]) -> None:
    fractions: dict[str, float] = {}
    for index, layer in enumerate(layers):
        here: set[str] = set()
        for place, bridge in enumerate(layer.bridges):
            if bridge.path is None:
                continue
            if bridge.path in here:
                raise NotPhysical(
                    f"layer {index} names the path {bridge.path!r} twice",
                    field=f"layers/{index}/bridges/{place}/path",
                    value=bridge.path,
                    limit="once in a layer",
                    clause=_COMBINED_METHOD,
                )
            here.add(bridge.path)
            first = fractions.setdefault(bridge.path, bridge.fraction)
            if not math.isclose(first, bridge.fraction, rel_tol=1e-9):
                raise NotPhysical(
                    f"the path {bridge.path!r} takes {first:g} of a layer and {bridge.fraction:g} of another",
                    field=f"layers/{index}/bridges/{place}/fraction",
                    value=bridge.fraction,
                    limit=f"{first:g}, the same in every layer of the path",
                    clause=_COMBINED_METHOD,
                )


def _check_single_path(passing: Sequence[Bridge], index: int) -> None:
    if len(passing) > 1:
        names = " and ".join(repr(bridge.path) for bridge in passing)
        raise NotPhysical(
            f"the paths {names} cross in an earlier layer, and lie side by side in layer {index}",
            field=f"layers/{index}/bridges",
            value=names,
            limit="paths that cross nowhere, or in every layer",
            clause=_COMBINED_METHOD,
        )


def _check_number_of_sections(number: int, index: int) -> None:
    if number > MAXIMUM_SECTIONS:
        raise OutOfScope(
            f"the bridges up to layer {index} make more than {MAXIMUM_SECTIONS} sections",
            field="layers",
            value=number,
            limit=f"at most {MAXIMUM_SECTIONS} sections",
            clause=_COMBINED_METHOD,
        )


# --- Air layers -----------------------------------------------------------------------------------


def tabulated_air_layer(thickness_m: float, points: Sequence[tuple[float, float]]) -> float:
    """Resistance of an unventilated air layer by the standard's table (6.9.2; clause from memory), in m²K/W.

    Between the rows it is interpolated linearly; for surfaces of usual materials (emissivity 0.8 or more).

    Args:
        thickness_m: of the air layer, 0 to 0.3 m.
        points: thickness in m and resistance in m²K/W for the direction of flow, ascending, from (0, 0).

    Raises:
        NotPhysical: a thickness below 0.
        OutOfScope: a thickness outside the table.
    """
    check_not_below_zero(thickness_m, "thickness_m", _AIR_LAYERS)
    if not points[0][0] <= thickness_m <= points[-1][0]:
        raise OutOfScope(
            f"an air layer of {thickness_m:g} m is outside the table",
            field="thickness_m",
            value=thickness_m,
            limit=f"{points[0][0]:g} to {points[-1][0]:g} m",
            clause=_AIR_LAYERS,
        )
    row = bisect_left(points, thickness_m, key=itemgetter(0))
    above_m, above = points[row]
    if above_m == thickness_m:
        return above
    below_m, below = points[row - 1]
    return below + (above - below) * (thickness_m - below_m) / (above_m - below_m)


def emissive_air_layer(
    thickness_m: float,
    heat_flow: HeatFlow,
    emissivity: float,
    opposite_emissivity: float = 0.9,
    mean_temperature_c: float = 10.0,
) -> AirLayer:
    """Resistance of an unventilated air layer from the emissivities of its two sides (annex D; from memory).

    R = 1/(h_a + h_r); h_r = E · 4 σ T³ with 1/E = 1/ε1 + 1/ε2 − 1. h_a is conduction, 0.025/d, or convection
    where that is larger: 1.25 horizontal, 1.95 upwards, 0.12 d^−0.44 downwards, for up to 5 K across the
    layer.

    Args:
        thickness_m: of the air layer, above 0 to 0.3 m.
        heat_flow: direction of the heat flow.
        emissivity: of one side, above 0 to 1.
        opposite_emissivity: of the other side, above 0 to 1.
        mean_temperature_c: of the two sides, °C, above absolute zero.

    Raises:
        NotPhysical: no thickness, an emissivity outside its range, a temperature under absolute zero.
        OutOfScope: a layer thicker than 0.3 m.
    """
    check_above_zero(thickness_m, "thickness_m", _AIR_LAYER_FORMULA)
    if thickness_m > LARGEST_AIR_LAYER_M:
        raise OutOfScope(
            f"an air layer of {thickness_m:g} m is a space, not a layer",
            field="thickness_m",
            value=thickness_m,
            limit=f"at most {LARGEST_AIR_LAYER_M:g} m",
            clause=_AIR_LAYER_FORMULA,
        )
    _emissivity(emissivity, "emissivity")
    _emissivity(opposite_emissivity, "opposite_emissivity")
    temperature_k = mean_temperature_c - ABSOLUTE_ZERO_C
    check_above_zero(temperature_k, "mean_temperature_c", _AIR_LAYER_FORMULA)

    if heat_flow == "horizontal":
        convection = 1.25
    elif heat_flow == "upwards":
        convection = 1.95
    else:
        convection = 0.12 * thickness_m**-0.44
    convective = max(convection, CONDUCTIVITY_OF_STILL_AIR_W_MK / thickness_m)
    between_surfaces = 1.0 / (1.0 / emissivity + 1.0 / opposite_emissivity - 1.0)
    radiative = between_surfaces * 4.0 * STEFAN_BOLTZMANN_W_M2K4 * temperature_k**3
    return AirLayer(1.0 / (convective + radiative), convective, radiative)


def slightly_ventilated_total(
    openings_mm2: float, unventilated_total_m2k_w: float, well_ventilated_total_m2k_w: float
) -> float:
    """Total resistance with a slightly ventilated air layer (6.9.3, 2007 too; from memory), in m²K/W.

    R_tot = (1500 − A_v)/1000 · R_tot,u + (A_v − 500)/1000 · R_tot,v.

    Args:
        openings_mm2: A_v, 500 to 1500 mm² per metre of length (vertical) or per m² of surface (horizontal
            layer).
        unventilated_total_m2k_w: the total resistance as if the layer were unventilated, m²K/W, above 0.
        well_ventilated_total_m2k_w: the total resistance as if it were well ventilated, m²K/W, above 0.

    Raises:
        OutOfScope: openings of an unventilated or of a well ventilated layer.
        NotPhysical: a total resistance of 0 or less.
    """
    check_above_zero(unventilated_total_m2k_w, "unventilated_total_m2k_w", "ISO 6946:2017, 6.9.3")
    check_above_zero(well_ventilated_total_m2k_w, "well_ventilated_total_m2k_w", "ISO 6946:2017, 6.9.3")
    unventilated = unventilated_share(openings_mm2)
    return unventilated * unventilated_total_m2k_w + (1.0 - unventilated) * well_ventilated_total_m2k_w


def unventilated_share(openings_mm2: float) -> float:
    """Share with which a slightly ventilated air layer counts as unventilated (6.9.3; from memory).

    (1500 − A_v)/1000.

    Args:
        openings_mm2: A_v, 500 to 1500 mm² per metre of length (vertical) or per m² of surface (horizontal
            layer).

    Raises:
        OutOfScope: openings of an unventilated or of a well ventilated layer.
    """
    if not 500.0 <= openings_mm2 <= 1500.0:
        raise OutOfScope(
            f"a layer with {openings_mm2:g} mm2 of openings is not slightly ventilated",
            field="openings_mm2",
            value=openings_mm2,
            limit="500 to 1500 mm2 per m or per m2",
            clause="ISO 6946:2017, 6.9.3",
        )
    return (1500.0 - openings_mm2) / 1000.0


def slightly_ventilated_1996(
    air_layer_resistance_m2k_w: float, outer_resistance_m2k_w: float
) -> tuple[float, float]:
    """A slightly ventilated air layer by the first edition (ISO 6946:1996, 5.3.3; from memory), in m²K/W.

    The layer counts with half its unventilated resistance, and what is outside it with 0.15 at most.

    Args:
        air_layer_resistance_m2k_w: of the same layer unventilated, m²K/W, 0 or more.
        outer_resistance_m2k_w: of all layers between it and the outside, m²K/W, 0 or more.

    Returns:
        The resistance of the air layer, and that of the layers outside it.

    Raises:
        NotPhysical: a resistance below 0.
    """
    clause = "ISO 6946:1996, 5.3.3"
    check_not_below_zero(air_layer_resistance_m2k_w, "air_layer_resistance_m2k_w", clause)
    check_not_below_zero(outer_resistance_m2k_w, "outer_resistance_m2k_w", clause)
    return air_layer_resistance_m2k_w / 2.0, min(outer_resistance_m2k_w, 0.15)


# --- Tapered layers -------------------------------------------------------------------------------

TaperShape = Literal[
    "rectangle", "triangle_thickest_at_apex", "triangle_thinnest_at_apex", "triangle_three_thicknesses"
]
"""The plan of one part of a layer laid to falls, and where in it the layer is thick."""

_SERIES_BELOW = 0.1
"""Under this ratio of resistances the closed forms lose digits, and the series needs few terms."""

_TERMS_OF_SERIES = 16
"""0.1^16 is under the last digit of a float."""


def tapered_u_value(
    shape: TaperShape,
    base_resistance_m2k_w: float,
    taper_resistance_m2k_w: float,
    intermediate_taper_resistance_m2k_w: float | None = None,
) -> float:
    """Mean U-value of one part of a component with a tapered layer (annex E; from memory), in W/(m²K).

    The mean of 1/(R0 + r) over the plan, where the taper's own r falls evenly from its thickest to nothing:
    along a rectangle, or over a triangle to one edge, to one corner, or with a third value at the corner
    between. The annex prints it as logarithms that become 0/0 where resistances meet; here the same is
    written without differences of near values, with x = r/R0:

    - rectangle ln(1 + x)/x · 1/R0;
    - thinnest at the apex 2 (1 − ln(1 + x)/x)/x · 1/R0, thickest 2 ((1 + x) ln(1 + x)/x − 1)/x · 1/R0;
    - three thicknesses: cut along the line at the intermediate thickness into one of each, in the shares
      R1/R2 and 1 − R1/R2.

    Args:
        shape: the plan, and where it is thick.
        base_resistance_m2k_w: R0, all the rest with surfaces and the layer's constant part, m²K/W, above 0.
        taper_resistance_m2k_w: the tapered part alone where it is thickest, m²K/W, 0 or more.
        intermediate_taper_resistance_m2k_w: R1, the tapered part at the corner between, m²K/W, from 0 to the
            thickest; for three thicknesses only.

    Raises:
        NotPhysical: a resistance outside its range; an intermediate one missing, or given for another shape.
    """
    check_above_zero(base_resistance_m2k_w, "base_resistance_m2k_w", _TAPERED)
    check_not_below_zero(taper_resistance_m2k_w, "taper_resistance_m2k_w", _TAPERED)
    _check_intermediate(shape, taper_resistance_m2k_w, intermediate_taper_resistance_m2k_w)
    ratio = taper_resistance_m2k_w / base_resistance_m2k_w
    if shape == "rectangle":
        return _mean_over_strip(ratio) / base_resistance_m2k_w
    if shape == "triangle_thickest_at_apex":
        return _mean_thick_at_apex(ratio) / base_resistance_m2k_w
    if shape == "triangle_thinnest_at_apex":
        return _mean_thin_at_apex(ratio) / base_resistance_m2k_w
    return _three_thicknesses(
        base_resistance_m2k_w, intermediate_taper_resistance_m2k_w or 0.0, taper_resistance_m2k_w
    )


def _three_thicknesses(base: float, intermediate: float, thickest: float) -> float:
    if thickest == 0.0:
        return 1.0 / base
    thin_share = intermediate / thickest
    thin_part = _mean_thin_at_apex(intermediate / base) / base
    thick_base = base + intermediate
    thick_part = _mean_thick_at_apex((thickest - intermediate) / thick_base) / thick_base
    return thin_share * thin_part + (1.0 - thin_share) * thick_part


def _mean_over_strip(ratio: float) -> float:
    """Mean of 1/(1 + s·ratio) over 0 ≤ s ≤ 1: ln(1 + x)/x."""
    return math.log1p(ratio) / ratio if ratio > 0.0 else 1.0


def _mean_thin_at_apex(ratio: float) -> float:
    """Mean of 1/(1 + s·ratio) over a triangle with s = 0 at the apex: 2 (1 − ln(1 + x)/x)/x."""
    if ratio >= _SERIES_BELOW:
        return 2.0 * (1.0 - math.log1p(ratio) / ratio) / ratio
    return 2.0 * sum((-ratio) ** power / (power + 2) for power in range(_TERMS_OF_SERIES))


def _mean_thick_at_apex(ratio: float) -> float:
    """Mean of 1/(1 + s·ratio) over a triangle with s = 1 at the apex: 2 ((1 + x) ln(1 + x)/x − 1)/x."""
    if ratio >= _SERIES_BELOW:
        return 2.0 * ((1.0 + ratio) * math.log1p(ratio) / ratio - 1.0) / ratio
    # The two triangles together make a parallelogram, whose mean is that of a strip.
    return 2.0 * _mean_over_strip(ratio) - _mean_thin_at_apex(ratio)


def _check_intermediate(shape: TaperShape, thickest: float, intermediate: float | None) -> None:
    if shape == "triangle_three_thicknesses":
        fits = intermediate is not None and 0.0 <= intermediate <= thickest
        limit = f"0 to {thickest:g} m2K/W"
    else:
        fits = intermediate is None
        limit = "absent: this shape has no intermediate thickness"
    if not fits:
        raise NotPhysical(
            f"{intermediate} is no intermediate resistance for the shape {shape}",
            field="intermediate_taper_resistance_m2k_w",
            value=intermediate,
            limit=limit,
            clause=_TAPERED,
        )


# --- Corrections to the U-value -------------------------------------------------------------------

_AIR_GAP_LEVELS_W_M2K = (0.0, 0.01, 0.04)


def air_gap_correction(level: int, insulation_resistance_m2k_w: float, total_m2k_w: float) -> float:
    """What gaps in the insulation add to the U-value (annex F.2; from memory), in W/(m²K).

    ΔU_g = ΔU″ · (R1/R_tot)², with ΔU″ = 0, 0.01 or 0.04.

    Args:
        level: 0 no gaps, or small ones that nothing bridges; 1 gaps through the insulation, no air
            circulation on its warm side; 2 with air circulation on its warm side.
        insulation_resistance_m2k_w: R1, the layer with the gaps, m²K/W, above 0 to the total.
        total_m2k_w: the component's total resistance without corrections, m²K/W.

    Raises:
        NotPhysical: no such level; a layer of more resistance than the whole.
    """
    if level not in (0, 1, 2):
        raise NotPhysical(
            f"there is no air gap level {level}",
            field="level",
            value=level,
            limit="0, 1 or 2",
            clause=_CORRECTIONS,
        )
    return _AIR_GAP_LEVELS_W_M2K[level] * _share_squared(insulation_resistance_m2k_w, total_m2k_w)


def fastener_correction(
    conductivity_w_mk: float,
    cross_section_m2: float,
    count_per_m2: float,
    insulation_thickness_m: float,
    penetration_m: float,
    insulation_resistance_m2k_w: float,
    total_m2k_w: float,
) -> float:
    """What metal fasteners through the insulation add to the U-value (annex F.3; from memory), in W/(m²K).

    ΔU_f = α · λ A n/d0 · (R1/R_tot)², with α = 0.8 · d1/d0. The standard asks for none where ties cross an
    empty cavity or the conductivity is under 1 W/(mK); that choice is the caller's. Not for fasteners between
    two metal sheets.

    Args:
        conductivity_w_mk: of the fastener, W/(mK), above 0.
        cross_section_m2: of one fastener, m², above 0.
        count_per_m2: fasteners in a square metre, 0 or more.
        insulation_thickness_m: d0, m, above 0.
        penetration_m: d1, how far a fastener goes into the insulation, m, above 0 to d0; less where recessed.
        insulation_resistance_m2k_w: R1, the layer they go through, m²K/W, above 0 to the total.
        total_m2k_w: the component's total resistance without corrections, m²K/W.

    Raises:
        NotPhysical: a value outside its range.
    """
    check_above_zero(conductivity_w_mk, "conductivity_w_mk", _CORRECTIONS)
    check_above_zero(cross_section_m2, "cross_section_m2", _CORRECTIONS)
    check_not_below_zero(count_per_m2, "count_per_m2", _CORRECTIONS)
    check_above_zero(insulation_thickness_m, "insulation_thickness_m", _CORRECTIONS)
    check_above_zero(penetration_m, "penetration_m", _CORRECTIONS)
    if penetration_m > insulation_thickness_m:
        raise NotPhysical(
            f"a fastener can't go {penetration_m:g} m into insulation of {insulation_thickness_m:g} m",
            field="penetration_m",
            value=penetration_m,
            limit=f"at most the thickness, {insulation_thickness_m:g} m",
            clause=_CORRECTIONS,
        )
    alpha = 0.8 * penetration_m / insulation_thickness_m
    fasteners = conductivity_w_mk * cross_section_m2 * count_per_m2 / insulation_thickness_m
    return alpha * fasteners * _share_squared(insulation_resistance_m2k_w, total_m2k_w)


def inverted_roof_correction(
    rainfall_mm_per_day: float,
    drainage_factor: float,
    heat_loss_factor: float,
    insulation_resistance_m2k_w: float,
    total_m2k_w: float,
) -> float:
    """What rain under an inverted roof's insulation adds to the U-value (annex F.4; from memory), in W/(m²K).

    ΔU_r = p · f · x · (R1/R_tot)².

    Args:
        rainfall_mm_per_day: p, the mean of the heating season, mm/day, 0 or more.
        drainage_factor: f, the share of it that reaches the waterproofing, 0 to 1.
        heat_loss_factor: x, W·day/(m²·K·mm), 0 or more; f · x is 0.04 for one layer of insulation with butt
            joints and open covering.
        insulation_resistance_m2k_w: R1, the insulation above the waterproofing, m²K/W, above 0 to the total.
        total_m2k_w: the component's total resistance without corrections, m²K/W.

    Raises:
        NotPhysical: a value outside its range.
    """
    check_not_below_zero(rainfall_mm_per_day, "rainfall_mm_per_day", _CORRECTIONS)
    check_not_below_zero(heat_loss_factor, "heat_loss_factor", _CORRECTIONS)
    if not 0.0 <= drainage_factor <= 1.0:
        raise NotPhysical(
            f"a share of the rain of {drainage_factor:g} can't be",
            field="drainage_factor",
            value=drainage_factor,
            limit="0 to 1",
            clause=_CORRECTIONS,
        )
    rain = rainfall_mm_per_day * drainage_factor * heat_loss_factor
    return rain * _share_squared(insulation_resistance_m2k_w, total_m2k_w)


def correction_may_be_left_out(correction_w_m2k: float, u_value_w_m2k: float) -> bool:
    """Whether all corrections together are under 3 % of the U-value (annex F.1; from memory).

    Args:
        correction_w_m2k: the sum of all corrections, W/(m²K), 0 or more.
        u_value_w_m2k: without them, W/(m²K), above 0.

    Raises:
        NotPhysical: a value outside its range.
    """
    check_not_below_zero(correction_w_m2k, "correction_w_m2k", _CORRECTIONS)
    check_above_zero(u_value_w_m2k, "u_value_w_m2k", _CORRECTIONS)
    return correction_w_m2k < SMALLEST_SHARE_OF_CORRECTIONS * u_value_w_m2k


def _share_squared(insulation_resistance_m2k_w: float, total_m2k_w: float) -> float:
    check_above_zero(insulation_resistance_m2k_w, "insulation_resistance_m2k_w", _CORRECTIONS)
    check_above_zero(total_m2k_w, "total_m2k_w", _CORRECTIONS)
    if insulation_resistance_m2k_w > total_m2k_w:
        raise NotPhysical(
            f"a layer of {insulation_resistance_m2k_w:g} m2K/W is more than the whole of {total_m2k_w:g}",
            field="insulation_resistance_m2k_w",
            value=insulation_resistance_m2k_w,
            limit=f"at most the total, {total_m2k_w:g} m2K/W",
            clause=_CORRECTIONS,
        )
    share = insulation_resistance_m2k_w / total_m2k_w
    return share * share


# --- Results --------------------------------------------------------------------------------------


def interface_temperatures(
    resistances_m2k_w: Sequence[float], internal_c: float, external_c: float
) -> tuple[float, ...]:
    """Temperatures between the resistances, from the inside air to the outside air, in °C.

    In a steady state each resistance takes its share of the difference: θ_n = θi − (θi − θe) · Σ R/R_tot.

    Args:
        resistances_m2k_w: from inside to outside, with the surfaces where they count, m²K/W, each 0 or more.
        internal_c: inside, °C.
        external_c: outside, °C.

    Returns:
        One temperature more than there are resistances.

    Raises:
        NotPhysical: a resistance below 0, or none at all.
    """
    for index, resistance in enumerate(resistances_m2k_w):
        check_not_below_zero(resistance, f"resistances_m2k_w/{index}", _HOMOGENEOUS)
    total = sum(resistances_m2k_w)
    check_above_zero(total, "resistances_m2k_w", _HOMOGENEOUS)
    fall_k = internal_c - external_c
    passed = 0.0
    temperatures = [internal_c]
    for resistance in resistances_m2k_w[:-1]:
        passed += resistance
        temperatures.append(internal_c - fall_k * passed / total)
    temperatures.append(external_c)
    return tuple(temperatures)


def stated(u_value: float) -> str:
    """The U-value as it is stated as a final result: two decimals, a half rounded up, without unit.

    Args:
        u_value: W/(m²K), 0 or more.

    Raises:
        NotPhysical: below 0, or not finite.
    """
    check_not_below_zero(u_value, "u_value", "ISO 6946:2017, 8")
    # By its shortest decimals: 0.285 is a half for the reader, though its binary is a little less.
    return str(Decimal(repr(float(u_value))).quantize(Decimal("0.01"), rounding=ROUND_HALF_UP))


# --- Limits ---------------------------------------------------------------------------------------


def _emissivity(value: float, field: str) -> None:
    if not 0.0 < value <= 1.0:
        raise NotPhysical(
            f"{field} must be above 0 and at most 1, not {value}",
            field=field,
            value=value,
            limit="above 0 to 1",
            clause=_AIR_LAYER_FORMULA,
        )
