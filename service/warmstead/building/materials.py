"""Conductivities: given, or a row of the table `materials`."""

from __future__ import annotations

from warmstead.building.annex import UNSEEN, number
from warmstead.building.findings import Findings
from warmstead.building.pointers import Place
from warmstead.survey.constructions import Bridge, SolidLayer, TaperedLayer
from warmstead.tables import table

UNKNOWN_W_MK = 1.0
"""Stands in where a problem was noted, so that the rest can still be looked at."""


def conductivity(part: SolidLayer | Bridge | TaperedLayer, findings: Findings, at: Place) -> float:
    """Return the conductivity of a part in W/(m·K), with a problem noted where it has none or two."""
    given, material = part.conductivity_w_mk, part.material
    if material is None:
        if given is None:
            findings.refuse("incomplete", f"{at}/conductivity_w_mk", "give conductivity_w_mk or material")
            return UNKNOWN_W_MK
        return given
    if given is not None:
        findings.refuse(
            "ambiguous", f"{at}/conductivity_w_mk", "give conductivity_w_mk or material, not both"
        )
        return given
    row = table("materials").by_id(material)
    if row is None:
        findings.refuse("not_found", f"{at}/material", f"no row {material!r} in /v1/tables/materials")
        return UNKNOWN_W_MK
    if row["provenance"] in UNSEEN:
        findings.warn_of_memory("materials", f"{at}/material")
    return number(row, "conductivity_w_mk")
