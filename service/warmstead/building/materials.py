"""Conductivities: given, or a row of the table `materials`."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache

from warmstead.building.annex import Default, default
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
    row = _conductivities().get(material)
    if row is None:
        findings.refuse("not_found", f"{at}/material", f"no row {material!r} in /v1/tables/materials")
        return UNKNOWN_W_MK
    if not row.seen:
        findings.warn_of_memory(row.table, f"{at}/material")
    return row.value


@cache
def _conductivities() -> Mapping[str, Default]:
    rows = table("materials").rows
    return {str(row["id"]): default(row, "conductivity_w_mk", "materials") for row in rows}
