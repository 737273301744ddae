"""What of a construction differs between two surveys: a layer's thickness, a conductivity, a floor's perimeter."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from pydantic import BaseModel

from warmstead.building.comparison.bundles import figures
from warmstead.building.comparison.units import INCHES, slip
from warmstead.survey.constructions import Construction, Declared, Layered, Typical

MOST_TOLD = 2
"""Where more differs than this, two constructions are different ones, and nothing in particular is named."""

_UNITS = {
    "_w_m2k": "W/(m²·K)",
    "_m2k_w": "m²·K/W",
    "_w_mk": "W/(m·K)",
    "_mm2_per_m2": "mm²/m²",
    "_mm2_per_m": "mm²/m",
    "_m2_per_m": "m²/m",
    "_per_m2": "per m²",
    "_mm2": "mm²",
    "_m_s": "m/s",
    "_mm": "mm",
    "_m2": "m²",
    "_m": "m",
}
"""Units by how a member's name ends; the longest ending that fits comes first."""
_NAMES = {
    "u_glazing": "U-value of the glazing",
    "u_frame": "U-value of the frame",
    "u_panel": "U-value of the panels",
    "psi_glazing": "ψ of the glazing's edge",
    "psi_panel": "ψ of the panels' edge",
    "height_above_ground": "height above the ground",
    "floor_resistance": "thermal resistance",
    "wall_thickness": "thickness of the walls above",
}


class Changed(NamedTuple):
    """One thing in which two constructions differ."""

    what: str
    first: str
    second: str
    slip: str | None = None
    """By which slip in a number, where it looks like one."""
    same_as: str | None = None
    """Which other member has the very number that the second survey gives here."""

    @property
    def is_slip(self) -> bool:
        """Tell whether a number differs by a slip of the decimal point or of the unit."""
        return self.slip is not None


def changed(first: Construction | None, second: Construction | None) -> list[Changed]:
    """Return in what two constructions differ; nothing where they are of different kinds, or differ in too much."""
    if first is None or second is None or type(first) is not type(second):
        return []
    if isinstance(first, Declared | Typical):
        return []
    if isinstance(first, Layered) and isinstance(second, Layered):
        found = [*_members(first, second, "", ("layers",)), *_layers(first.layers, second.layers)]
    else:
        found = list(_members(first, second, ""))
    return found if len(found) <= MOST_TOLD else []


def in_words(found: Sequence[Changed]) -> str:
    """Return what differs, the second survey's first."""
    told = []
    for one in found:
        guess = one.slip or (one.same_as and f"the number of its {one.same_as}")
        hint = f" ({guess}?)" if guess else ""
        told.append(f"{one.what} {one.second} against {one.first}{hint}")
    return " and ".join(told)


def _layers(first: Sequence[BaseModel], second: Sequence[BaseModel]) -> Iterator[Changed]:
    if len(first) == len(second):
        for place, (one, other) in enumerate(zip(first, second, strict=True), 1):
            if type(one) is not type(other):
                yield Changed(f"layer {place} from the inside", _layer(one), _layer(other))
            else:
                yield from _members(one, other, f" of layer {place} from the inside{_made_of(one, other)}")
        return
    longer, shorter = (first, second) if len(first) > len(second) else (second, first)
    for place, layer in enumerate(longer):
        if [*longer[:place], *longer[place + 1 :]] == list(shorter):
            texts = (_layer(layer), "none") if longer is first else ("none", _layer(layer))
            yield Changed(f"layer {place + 1} from the inside", *texts)
            return
    # Several layers more or less: too much to be named one by one.
    yield from [Changed("layers", "", "")] * (MOST_TOLD + 1)


def _made_of(one: BaseModel, other: BaseModel) -> str:
    """Return what a layer is made of, where both surveys agree on it."""
    materials = {_material(layer) for layer in (one, other)}
    material = materials.pop() if len(materials) == 1 else ""
    return f" ({material})" if material else ""


def _material(layer: BaseModel) -> str:
    conductivity = getattr(layer, "conductivity_w_mk", None)
    if conductivity is not None:
        return f"{conductivity:.4g} W/(m·K)"
    return getattr(layer, "material", None) or ""


def _layer(layer: BaseModel) -> str:
    thickness = getattr(layer, "thickness_mm", None)
    parts = (
        f"{thickness:.4g} mm" if thickness is not None else "",
        _material(layer) or str(getattr(layer, "kind", "")),
    )
    return " of ".join(part for part in parts if part)


def _members(one: BaseModel, other: BaseModel, of: str, left_out: Sequence[str] = ()) -> Iterator[Changed]:
    """Yield the members of two parts of one kind that differ, those of their own parts included."""
    names = [name for name in type(one).model_fields if name not in left_out]
    if "material" in names and "conductivity_w_mk" in names:
        names = [name for name in names if name not in ("material", "conductivity_w_mk")]
        materials = _material(one), _material(other)
        if materials[0] != materials[1]:
            values = getattr(one, "conductivity_w_mk", None), getattr(other, "conductivity_w_mk", None)
            yield Changed(
                f"conductivity{of}" if all(values) else f"material{of}", *materials, _slip("_w_mk", *values)
            )
    for name in names:
        if getattr(one, name) != getattr(other, name):
            yield from _member(name, one, other, of)


def _member(name: str, one: BaseModel, other: BaseModel, of: str) -> Iterator[Changed]:
    before, after = getattr(one, name), getattr(other, name)
    what, unit = _named(name)
    if isinstance(before, BaseModel) and isinstance(after, BaseModel) and type(before) is type(after):
        yield from _members(before, after, f" of the {what}{of}")
    elif isinstance(before, list) and isinstance(after, list) and len(before) == len(after):
        for place, (part, against) in enumerate(zip(before, after, strict=True), 1):
            if part != against:
                yield from _members(part, against, f" of {what[:-1]} {place}{of}")
    elif isinstance(before, int | float) and isinstance(after, int | float):
        texts = figures(before, after)
        ending = f" {unit}" if unit else ""
        yield Changed(
            f"{what}{of}",
            texts[0] + ending,
            texts[1] + ending,
            _slip(name, before, after),
            _same_as_another(name, before, one) or _same_as_another(name, after, other),
        )
    else:
        yield Changed(f"{what}{of}", _plain(before, unit), _plain(after, unit))


def _plain(value: object, unit: str) -> str:
    if value is None:
        return "not given"
    if isinstance(value, int | float):
        return f"{value:.4g} {unit}".strip()
    return value.replace("_", " ") if isinstance(value, str) else "others"


def _named(name: str) -> tuple[str, str]:
    """Return a member's name and unit in words."""
    for ending, unit in _UNITS.items():
        if name.endswith(ending):
            stem = name.removesuffix(ending)
            return _NAMES.get(stem, stem.replace("_", " ")), unit
    return name.replace("_", " "), ""


def _slip(name: str, before: float | None, after: float | None) -> str | None:
    found = slip(before or 0.0, after or 0.0, *((INCHES,) if name.endswith("_mm") else ()))
    return found and found.guess


def _same_as_another(name: str, after: float, owner: BaseModel) -> str | None:
    """Say which other member has the very number that a survey gives for this one."""
    if float(after).is_integer():
        return None
    for other in type(owner).model_fields:
        if other != name and getattr(owner, other) == after:
            return _named(other)[0]
    return None
