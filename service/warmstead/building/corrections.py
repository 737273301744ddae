"""Corrections to a layered U-value: air gaps, fasteners, inverted roofs (ISO 6946:2017, annex F)."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from warmstead.building.findings import Findings
from warmstead.standards import iso_6946
from warmstead.survey.constructions import Corrections, Fasteners, Layered, SolidLayer

LARGEST_FASTENER_SHARE = 0.05
"""More than this share of an area is a bridge, and no fastener (common practice)."""


class Correction(NamedTuple):
    """One correction to the U-value."""

    name: str
    clause: str
    correction_w_m2k: float


class Corrected(NamedTuple):
    """All corrections, and how much of them is taken."""

    terms: tuple[Correction, ...]
    taken_w_m2k: float
    """Their sum; 0 where that is under 3 % of the U-value and was left out."""


def correct(
    construction: Layered,
    asked: Corrections,
    u_value_w_m2k: float,
    layers_m2k_w: Sequence[float],
    findings: Findings,
    at: str,
) -> Corrected | None:
    """Return the corrections that a construction asks for, or None with problems noted.

    Args:
        construction: as sent.
        asked: its corrections.
        u_value_w_m2k: U-value before corrections.
        layers_m2k_w: resistance of each layer.
        findings: where problems and warnings go.
        at: JSON pointer of the corrections.

    Raises:
        MethodError: an equation refuses the input.
    """
    known = len(findings.problems)
    terms = _terms(construction, asked, 1.0 / u_value_w_m2k, layers_m2k_w, findings, at)
    if len(findings.problems) > known:
        return None
    total = sum(term.correction_w_m2k for term in terms)
    if not iso_6946.correction_may_be_left_out(total, u_value_w_m2k):
        return Corrected(terms, total)
    if total:
        findings.warn(
            "assumption.correction_left_out",
            at,
            f"{total:.4f} W/(m²·K) in all is under 3 % of the U-value and was left out",
        )
    return Corrected(terms, 0.0)


def _terms(
    construction: Layered,
    asked: Corrections,
    total_m2k_w: float,
    layers_m2k_w: Sequence[float],
    findings: Findings,
    at: str,
) -> tuple[Correction, ...]:
    terms: list[Correction] = []
    if (gaps := asked.air_gaps) is not None and _exists(gaps.layer, layers_m2k_w, findings, f"{at}/air_gaps"):
        value = iso_6946.air_gap_correction(gaps.level, layers_m2k_w[gaps.layer], total_m2k_w)
        terms.append(Correction("air gaps", "ISO 6946:2017, annex F.2", value))
    for index, fasteners in enumerate(asked.fasteners or ()):
        pointer = f"{at}/fasteners/{index}"
        if _exists(fasteners.layer, layers_m2k_w, findings, pointer):
            resistance = layers_m2k_w[fasteners.layer]
            value = _fasteners(construction, fasteners, resistance, total_m2k_w, findings, pointer)
            terms.append(Correction("fasteners", "ISO 6946:2017, annex F.3", value))
    if (roof := asked.inverted_roof) is not None and _exists(
        roof.layer, layers_m2k_w, findings, f"{at}/inverted_roof"
    ):
        value = iso_6946.inverted_roof_correction(
            roof.rainfall_mm_per_day,
            roof.drainage_factor,
            roof.heat_loss_factor,
            layers_m2k_w[roof.layer],
            total_m2k_w,
        )
        terms.append(Correction("inverted roof", "ISO 6946:2017, annex F.4", value))
    return tuple(terms)


def _exists(layer: int, layers_m2k_w: Sequence[float], findings: Findings, at: str) -> bool:
    if layer < len(layers_m2k_w):
        return True
    findings.refuse("not_found", f"{at}/layer", f"layers are numbered 0 to {len(layers_m2k_w) - 1}")
    return False


def _fasteners(
    construction: Layered,
    fasteners: Fasteners,
    resistance_m2k_w: float,
    total_m2k_w: float,
    findings: Findings,
    at: str,
) -> float:
    layer = construction.layers[fasteners.layer]
    if not isinstance(layer, SolidLayer):
        findings.refuse(
            "contradiction", f"{at}/layer", "fasteners are counted through a solid insulation layer"
        )
        return 0.0
    share = fasteners.cross_section_mm2 * fasteners.count_per_m2 / 1e6
    if share > LARGEST_FASTENER_SHARE:
        detail = f"these fasteners would fill {100 * share:.1f} % of the area; at most {100 * LARGEST_FASTENER_SHARE:.0f} %"
        findings.refuse("contradiction", f"{at}/count_per_m2", detail)
        return 0.0
    penetration_mm = layer.thickness_mm if fasteners.penetration_mm is None else fasteners.penetration_mm
    if penetration_mm > layer.thickness_mm:
        findings.refuse(
            "contradiction", f"{at}/penetration_mm", f"at most the layer's {layer.thickness_mm:g} mm"
        )
        return 0.0
    return iso_6946.fastener_correction(
        fasteners.conductivity_w_mk,
        fasteners.cross_section_mm2 / 1e6,
        fasteners.count_per_m2,
        layer.thickness_mm / 1000.0,
        penetration_mm / 1000.0,
        resistance_m2k_w,
        total_m2k_w,
    )
