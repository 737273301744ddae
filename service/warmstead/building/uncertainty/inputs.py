"""Uncertain quantities of a house: found among its inputs, with the distribution that each was given."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import NamedTuple

from warmstead.building.annex import number
from warmstead.building.balance_inputs import (
    AIR_FACTOR,
    AIRTIGHTNESS,
    ANNUAL_MEAN,
    AREA_FACTOR,
    EXTERNAL,
    NEIGHBOUR_SHIFT,
    SURCHARGE,
    TEMPERATURE_SHIFT,
    HouseInputs,
    Key,
)
from warmstead.building.findings import Findings, code_of
from warmstead.building.house import ResolvedHouse
from warmstead.building.names import refuse_unknown
from warmstead.standards.errors import MethodError
from warmstead.standards.jcgm_101 import (
    Distribution,
    Lognormal,
    Rectangular,
    Triangular,
    normal_within,
)
from warmstead.survey.uncertainty import (
    Confidence,
    GivenDistribution,
    LognormalDistribution,
    NormalDistribution,
    Quantity,
    UncertainQuantity,
)
from warmstead.tables import table

Where = dict[str, str]
TABLE = "uncertainty-classes"
CLASS_BY_KIND: Mapping[str, Confidence] = {
    "declared": "documented",
    "layered": "inspected",
    "window": "inspected",
    "ground_floor": "assumed",
    "typical": "assumed",
}
"""How well a construction is taken to be known by what the survey says of it, where nothing is said (common practice)."""


class Found(NamedTuple):
    """A quantity among the inputs of a house."""

    keys: tuple[Key, ...]
    value: float
    """By the survey; of the first key, the others keep their ratio to it."""
    unit: str
    words: str
    low: float = -math.inf
    high: float = math.inf
    """What is physically possible."""
    temperature: bool = False


class UncertainInput(NamedTuple):
    """One uncertain input of the balance."""

    pointer: str
    where: Where
    """What the request called it: `of`, `construction`, `room` …"""
    found: Found
    distribution: Distribution


class UncertainInputs:
    """Collects the uncertain inputs of one house; none is taken twice."""

    def __init__(self, house: ResolvedHouse, inputs: HouseInputs, findings: Findings) -> None:
        self._house = house
        self._inputs = inputs
        self._findings = findings
        self._taken: dict[Key, str] = {}
        self.listed: list[UncertainInput] = []

    def add(self, given: UncertainQuantity, at: str) -> None:
        """Take a quantity as the request gives it."""
        found = self._find(given.quantity, f"{at}/quantity")
        if found is None:
            return
        distribution = resolve_distribution(given.distribution, found, f"{at}/distribution", self._findings)
        if distribution is not None:
            self._list(at, given.quantity.model_dump(exclude_none=True), found, distribution)

    def add_class(self, construction: str, confidence: Confidence, at: str) -> None:
        """Take a construction's U-value by how it is known."""
        found = self._u_value(construction, at)
        if found is not None:
            self._list(
                at,
                {"of": "u_value", "construction": construction},
                found,
                self._by_class("u_value", confidence, found, at),
            )

    def add_defaults(self) -> None:
        """Take what is not named yet as doubtful as is usual, each with a warning."""
        for name in self._inputs.sides:
            found = self._u_value(name, "/defaults")
            if found is not None and not any(key in self._taken for key in found.keys):
                confidence = CLASS_BY_KIND[self._house.constructions.by_id[name].kind]
                where = {"of": "u_value", "construction": name}
                self._default(where, found, "u_value", confidence, f"/house/constructions/{name}")
        areas = self._areas_not_named()
        if areas is not None:
            self._default({"of": "area"}, areas, "area", "inspected", "/house/rooms")
        if AIRTIGHTNESS in self._inputs.nominal:
            if AIRTIGHTNESS not in self._taken and self._inputs.nominal[AIRTIGHTNESS] > 0.0:
                found = self._airtightness()
                self._default(
                    {"of": "airtightness"}, found, "airtightness", "documented", "/house/ventilation"
                )
        else:
            air = self._air_not_named()
            if air is not None:
                self._default({"of": "air_changes"}, air, "air_changes", "assumed", "/house/ventilation")

    def _areas_not_named(self) -> Found | None:
        """Return all areas that nothing makes uncertain yet, as one quantity; None where there are none."""
        if not any(key[0] in ("area", "area_factor") for key in self._taken):
            return _AREA
        factors = self._inputs.area_factors
        own = [key for key in factors if key not in self._taken and factors[key] not in self._taken]
        return None if AREA_FACTOR in self._taken else self._together(own, "m2", "area")

    def _air_not_named(self) -> Found | None:
        """Return the air changes of all rooms that nothing makes uncertain yet, as one quantity; None where there are none."""
        if not any(key[0] in ("air_changes", "air_factor") for key in self._taken):
            return _AIR_CHANGES
        own = [key for key in self._inputs.nominal if key[0] == "air_changes" and key not in self._taken]
        return None if AIR_FACTOR in self._taken else self._together(own, "/h", "air changes")

    def _together(self, keys: list[Key], unit: str, what: str) -> Found | None:
        """Return inputs that are off by the same share: the first one's value, to which the others keep their ratio."""
        nominal = self._inputs.nominal
        keys = [key for key in keys if nominal[key] > 0.0]
        if not keys:
            return None
        first = keys[0]
        of = repr(first[-1]) if first[0] == "air_changes" else f"{first[-1]!r} in {first[-2]!r}"
        words = f"{what} of {of}, and in proportion of all else that is not named"
        return Found(tuple(keys), nominal[first], unit, words, low=0.0)

    def _default(self, where: Where, found: Found, quantity: str, confidence: Confidence, at: str) -> None:
        distribution = self._by_class(quantity, confidence, found, at)
        share = distribution.standard_uncertainty / distribution.mean
        self._findings.warn(
            "default.uncertainty",
            at,
            f"{found.words}: taken as {confidence}, ± {share:.0%} (standard uncertainty)",
        )
        self._list(at, where, found, distribution)

    def _by_class(self, quantity: str, confidence: Confidence, found: Found, at: str) -> Distribution:
        """Return the lognormal distribution of a class: it stays positive, however little is known."""
        row = next(
            row for row in table(TABLE).rows if (row["quantity"], row["class"]) == (quantity, confidence)
        )
        if row["provenance"] == "from_memory":
            self._findings.warn_of_memory(TABLE, at)
        return Lognormal(found.value, number(row, "relative_standard_uncertainty") * found.value)

    def _list(self, at: str, where: Where, found: Found, distribution: Distribution) -> None:
        for key in found.keys:
            if key in self._taken:
                self._findings.refuse(
                    "ambiguous", at, f"{found.words} is uncertain by {self._taken[key]} already: name it once"
                )
                return
        for key in found.keys:
            self._taken[key] = at
        self.listed.append(UncertainInput(at, where, found, distribution))

    def _find(self, quantity: Quantity, at: str) -> Found | None:
        """Return where a quantity stands among the inputs, or None with a problem noted."""
        nominal = self._inputs.nominal
        if quantity.of == "u_value":
            return self._u_value(quantity.construction, f"{at}/construction")
        if quantity.of == "area":
            if quantity.construction is not None:
                return self._area_of_construction(quantity, at)
            return self._element(quantity, "area", _AREA, "m2", at)
        if quantity.of == "neighbour_temperature":
            return self._element(quantity, "neighbour", _NEIGHBOURS, "Cel", at)
        if quantity.of == "external_temperature":
            return _temperature(EXTERNAL, nominal[EXTERNAL], "outside design temperature")
        if quantity.of == "annual_mean_external_temperature":
            if self._house.house.conditions.annual_mean_external_temperature_c is None:
                self._findings.refuse("contradiction", at, "the survey has no annual mean temperature")
                return None
            return _temperature(ANNUAL_MEAN, nominal[ANNUAL_MEAN], "annual mean outside temperature")
        if quantity.of == "airtightness":
            return self._of_method(at)
        if quantity.of == "thermal_bridge_surcharge":
            words = "surcharge for thermal bridges"
            return Found((SURCHARGE,), nominal[SURCHARGE], "W/(m2.K)", words, low=0.0)
        if quantity.of == "unheated_space_air_changes":
            key = ("space_air", quantity.space)
            words = f"air changes of the unheated space {quantity.space!r}"
            return self._known(key, "/h", words, 0.0, math.inf, f"{at}/space")
        return self._of_room(quantity, at)

    def _of_room(self, quantity: Quantity, at: str) -> Found | None:
        """Return a quantity that belongs to a room, or to all rooms alike."""
        room = getattr(quantity, "room", None)
        if quantity.of == "air_changes":
            if room is None:
                return _AIR_CHANGES
            return self._known(
                ("air_changes", room), "/h", f"air changes of {room!r}", 0.0, math.inf, f"{at}/room"
            )
        if quantity.of == "room_temperature":
            if room is None:
                return _ROOMS
            words = f"temperature of {room!r}"
            return self._known(("temperature", room), "Cel", words, -math.inf, math.inf, f"{at}/room")
        if quantity.of == "flue_air":
            words = f"air through the flues of {room!r}"
            return self._known(("flue_air", str(room)), "L/s", words, 0.0, math.inf, f"{at}/room")
        if quantity.of == "heat_recovery_efficiency":
            words = f"heat recovery of {room!r}"
            return self._known(("heat_recovery", str(room)), "1", words, 0.0, 1.0, f"{at}/room")
        if quantity.of == "junction":
            key = ("junction", str(room), quantity.junction)
            words = f"ψ of the junction {quantity.junction!r} in {room!r}"
            return self._known(key, "W/(m.K)", words, -math.inf, math.inf, f"{at}/junction")
        element = getattr(quantity, "element", "")
        if quantity.of == "temperature_reduction_factor":
            words = f"temperature reduction factor of {element!r} in {room!r}"
            return self._known(
                ("reduction_factor", str(room), element), "1", words, 0.0, 1.0, f"{at}/element"
            )
        words = f"temperature behind {element!r} of {room!r}"
        return self._known(
            ("adjacent", str(room), element), "Cel", words, -math.inf, math.inf, f"{at}/element"
        )

    def _known(self, key: Key, unit: str, words: str, low: float, high: float, at: str) -> Found | None:
        """Return an input that the survey has, or None with a problem noted."""
        if key not in self._inputs.nominal:
            others = {other[-1] for other in self._inputs.nominal if other[:-1] == key[:-1]}
            refuse_unknown(self._findings, at, f"input of the house that is the {words}:", key[-1], others)
            return None
        return Found((key,), self._inputs.nominal[key], unit, words, low, high, unit == "Cel")

    def _u_value(self, construction: str, at: str) -> Found | None:
        keys = self._inputs.sides.get(construction)
        if keys is None:
            what = "construction that something in the house is made of:"
            refuse_unknown(self._findings, at, what, construction, self._inputs.sides)
            return None
        words = f"U-value of {construction!r}"
        return Found(tuple(keys), self._inputs.nominal[keys[0]], "W/(m2.K)", words, low=0.0)

    def _area_of_construction(self, quantity: Quantity, at: str) -> Found | None:
        assert quantity.of == "area"
        assert quantity.construction is not None
        if quantity.room is not None or quantity.space is not None or quantity.element is not None:
            self._findings.refuse("ambiguous", at, "give construction, or an element with its room or space")
            return None
        name = quantity.construction
        words = f"all areas of {name!r} (factor)"
        return self._known(("area_factor", name), "1", words, 0.0, math.inf, f"{at}/construction")

    def _element(self, quantity: Quantity, kind: str, shared: Found, unit: str, at: str) -> Found | None:
        """Return what belongs to one element of a room or space; with none, what all of them share."""
        assert quantity.of in ("area", "neighbour_temperature")
        room, space, element = quantity.room, quantity.space, quantity.element
        if room is None and space is None and element is None:
            return shared
        if element is None or (room is None) == (space is None):
            self._findings.refuse("incomplete", at, "give element with either room or space")
            return None
        owner = room if room is not None else str(space)
        key = (kind, "room" if room is not None else "space", owner, element)
        what = "area of" if kind == "area" else "temperature behind"
        low = 0.0 if kind == "area" else -math.inf
        return self._known(key, unit, f"{what} {element!r} in {owner!r}", low, math.inf, f"{at}/element")

    def _of_method(self, at: str) -> Found | None:
        if not self._inputs.nominal.get(AIRTIGHTNESS):
            self._findings.refuse(
                "contradiction", at, "the house's ventilation is not by an airtightness of more than 0"
            )
            return None
        return self._airtightness()

    def _airtightness(self) -> Found:
        value = self._inputs.nominal[AIRTIGHTNESS]
        return Found((AIRTIGHTNESS,), value, "/h", "air changes at 50 Pa", low=0.0)


def _temperature(key: Key, value: float, words: str) -> Found:
    return Found((key,), value, "Cel", words, temperature=True)


_AREA = Found((AREA_FACTOR,), 1.0, "1", "all areas of the house (factor)", low=0.0)
_AIR_CHANGES = Found((AIR_FACTOR,), 1.0, "1", "air changes of all rooms (factor)", low=0.0)
_ROOMS = Found((TEMPERATURE_SHIFT,), 0.0, "K", "temperature of all rooms (shift)", temperature=True)
_NEIGHBOURS = Found((NEIGHBOUR_SHIFT,), 0.0, "K", "temperature of all neighbours (shift)", temperature=True)


def resolve_distribution(
    given: GivenDistribution, found: Found, at: str, findings: Findings
) -> Distribution | None:
    """Return a distribution in the quantity's unit, or None with a problem noted.

    Args:
        given: as sent.
        found: the quantity.
        at: JSON pointer of the distribution.
        findings: where problems go.
    """
    centre = found.value if given.value is None else given.value
    if isinstance(given, NormalDistribution | LognormalDistribution):
        spread = _spread(given, "standard_uncertainty", centre, found, at, findings)
        if spread is None:
            return None
        if isinstance(given, LognormalDistribution):
            return _lognormal(centre, spread, found, at, findings)
        try:
            return normal_within(centre, spread, found.low, found.high)
        except MethodError as error:
            detail = f"{error}, which {found.words} cannot be: lognormal, rectangular or a smaller one; {error.limit}"
            findings.refuse(code_of(error), at, detail)
            return None
    if given.low is not None or given.high is not None:
        if given.low is None or given.high is None:
            findings.refuse("incomplete", at, "low and high belong together")
            return None
        for member in ("value", "half_width", "relative_half_width"):
            if getattr(given, member) is not None:
                findings.refuse("ambiguous", f"{at}/{member}", "give low and high, or a half width; not both")
                return None
        low, high = given.low, given.high
    else:
        half = _spread(given, "half_width", centre, found, at, findings)
        if half is None:
            return None
        low, high = centre - half, centre + half
    if low >= high:
        findings.refuse("contradiction", f"{at}/high", f"must be more than low, {low:g}")
        return None
    if low < found.low or high > found.high:
        detail = f"{low:g} to {high:g} is beyond what {found.words} can be, {found.low:g} to {found.high:g}"
        findings.refuse("contradiction", at, detail)
        return None
    return Rectangular(low, high) if given.kind == "rectangular" else Triangular(low, high)


def _lognormal(
    centre: float, spread: float, found: Found, at: str, findings: Findings
) -> Distribution | None:
    if found.low != 0.0 or found.high < math.inf:
        findings.refuse(
            "not_allowed_here",
            f"{at}/kind",
            f"lognormal is for what has no limit but 0, unlike {found.words}",
        )
        return None
    if centre <= 0.0 or spread > 10.0 * centre:
        findings.refuse(
            "contradiction",
            at,
            "a lognormal distribution needs a value above 0, and at most 10 times it as spread",
        )
        return None
    return Lognormal(centre, spread)


def _spread(
    given: GivenDistribution, member: str, centre: float, found: Found, at: str, findings: Findings
) -> float | None:
    """Return a spread by exactly one of its two members, or None with a problem noted."""
    absolute: float | None = getattr(given, member)
    relative: float | None = getattr(given, f"relative_{member}")
    if (absolute is None) == (relative is None):
        detail = f"give exactly one of {member} and relative_{member}"
        findings.refuse("incomplete" if absolute is None else "ambiguous", f"{at}/{member}", detail)
        return None
    if absolute is not None:
        return absolute
    assert relative is not None
    if found.temperature:
        findings.refuse(
            "not_allowed_here",
            f"{at}/relative_{member}",
            "a temperature has no share of itself: give it in kelvin",
        )
        return None
    if centre == 0.0:
        findings.refuse("contradiction", f"{at}/relative_{member}", f"a share of 0 is 0: give {member}")
        return None
    return relative * abs(centre)
