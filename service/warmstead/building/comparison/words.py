"""What is left after the patterns, in sentences that a householder can put to whoever made a survey."""

from __future__ import annotations

from collections.abc import Callable

from warmstead.building.comparison import words_of_air, words_of_sizes
from warmstead.building.comparison.bundles import (
    Bundle,
    Pattern,
    Surveys,
    figures,
    listed,
    main_cause,
    number,
    parts_of,
    watts,
)
from warmstead.building.comparison.made_of import changed, in_words
from warmstead.building.comparison.phrases import Told, beyond, default, elements, pairs_of, two
from warmstead.building.comparison.pieces import Piece
from warmstead.building.comparison.reading import Part, PartPair
from warmstead.survey.constructions import Construction
from warmstead.survey.house import House


def plain(key: tuple[str, ...], pieces: list[Piece], surveys: Surveys) -> Bundle:
    """Return what pieces of one kind say together."""
    pattern, says = _SAYS[key[0]](surveys, pieces, key)
    return Bundle(main_cause(pieces), pattern, pieces, says)


def _u_values(surveys: Surveys, pieces: list[Piece], key: tuple[str, ...]) -> Told:
    pairs = pairs_of(pieces)
    where = elements(surveys, pairs)
    first, second = (_constructions(pairs, survey) for survey in (0, 1))
    found = changed(*(_document(surveys, survey, pairs) for survey in (0, 1)))
    detail = f"{in_words(found)}; " if found else ""
    pattern: Pattern | None = "mixed_units" if any(one.is_slip for one in found) else None
    if key[1] == key[2]:
        one, other = _told_apart(pairs)
        return pattern, (
            f"{surveys.second_name} has the U-value of {key[1]} as {other} W/(m²·K), {surveys.first_name} {one}: "
            f"{detail}{where}"
        )
    detail = f" ({detail.removesuffix('; ')})" if found else ""
    return pattern, (
        f"{surveys.second_name} has {second} W/(m²·K) for {where}, {surveys.first_name} {first}{detail}"
    )


def _constructions(pairs: list[PartPair], survey: int) -> str:
    """Return the constructions of rows, each with its U-values."""
    u_values: dict[str, list[float]] = {}
    for pair in pairs:
        part = parts_of(pair)[survey]
        u_values.setdefault(part.construction, []).append(part.u_value_w_m2k)
    return listed(f"{name} with {listed(map(number, values))}" for name, values in u_values.items())


def _told_apart(pairs: list[PartPair]) -> tuple[str, str]:
    """Return the U-values of one construction in both surveys, with as many digits as tell them apart."""
    one, other = (listed(number(parts_of(pair)[i].u_value_w_m2k) for pair in pairs) for i in (0, 1))
    if one != other:
        return one, other
    first, second = parts_of(pairs[0])
    return figures(first.u_value_w_m2k, second.u_value_w_m2k)


def _document(surveys: Surveys, survey: int, pairs: list[PartPair]) -> Construction | None:
    """Return the construction that rows have in a survey, as sent, where it is one for all of them."""
    names = {parts_of(pair)[survey].construction for pair in pairs}
    return surveys.reading(survey).construction(names.pop()) if len(names) == 1 else None


def _room_temperature(surveys: Surveys, pieces: list[Piece], key: tuple[str, ...]) -> Told:
    if not key[1]:
        return None, f"{surveys.second_name} and {surveys.first_name} have different room temperatures"
    first, second = surveys.rooms[key[1]].both
    one, other = figures(first.temperature_c, second.temperature_c)
    given = (first.room.design_temperature_c is not None, second.room.design_temperature_c is not None)
    return default(given, surveys, two(surveys, f"{surveys.label(key[1])} at ", one, other, "°C"))


def _outside(surveys: Surveys, pieces: list[Piece], key: tuple[str, ...]) -> Told:
    one, other = figures(surveys.first.external_c, surveys.second.external_c)
    return "outside_temperature", two(surveys, "an outside design temperature of ", one, other, "°C")


def _annual_mean(surveys: Surveys, pieces: list[Piece], key: tuple[str, ...]) -> Told:
    means = [
        s.house.house.conditions.annual_mean_external_temperature_c for s in (surveys.first, surveys.second)
    ]
    one, other = (number(mean or 0.0) for mean in means)
    return "outside_temperature", two(surveys, "an annual mean outside temperature of ", one, other, "°C")


def _beside(surveys: Surveys, pieces: list[Piece], key: tuple[str, ...]) -> Told:
    first, second = parts_of(pairs_of(pieces)[0])
    one, other = figures(first.side.reference_c, second.side.reference_c)
    return None, two(surveys, "", one, other, "°C", f" beyond {elements(surveys, pairs_of(pieces))}")


def _space(surveys: Surveys, pieces: list[Piece], key: tuple[str, ...]) -> Told:
    name = key[1]
    houses = [survey.house for survey in (surveys.first, surveys.second)]
    facing = [
        (pair.first.side.target, pair.second.side.target)
        for pair in surveys.matched.pairs
        if pair.first
        and pair.second
        and pair.first.side.target == name
        and pair.second.side.reference == "space"
    ]
    names = facing[0] if facing else (name, name)
    at = [house.space_temperatures_c[space] for house, space in zip(houses, names, strict=True)]
    one, other = figures(*(round(temperature, 2) for temperature in at))
    says = two(surveys, f"{name} at ", one, other, "°C on the design day")
    differing = _differing(
        *(_described(house.house, space) for house, space in zip(houses, names, strict=True))
    )
    return None, f"{says}, since they describe it differently{differing}"


def _described(house: House, name: str) -> dict[str, object]:
    """Return what a survey says of an unheated space, part by part."""
    space = next(space for space in house.unheated_spaces or () if space.id == name)
    parts: dict[str, object] = {"its volume": space.volume_m3, "its air changes": space.air_changes}
    for element in space.elements:
        parts[element.id] = (element, house.constructions[element.construction])
    return parts


def _differing(first: dict[str, object], second: dict[str, object]) -> str:
    names = [name for name in {**first, **second} if first.get(name) != second.get(name)]
    return f" ({listed(names)})" if names else ""


def _weights(surveys: Surveys, pieces: list[Piece], key: tuple[str, ...]) -> Told:
    first, second = parts_of(pairs_of(pieces)[0])
    one, other = figures(first.side.weight, second.side.weight)
    where = f" for {elements(surveys, pairs_of(pieces))}"
    return None, two(surveys, "a temperature reduction factor of ", one, other, where=where)


def _other_side(surveys: Surveys, pieces: list[Piece], key: tuple[str, ...]) -> Told:
    pairs = [pair for pair in pairs_of(pieces) if pair.first is not None and pair.second is not None]
    one, other = (beyond(surveys, survey, pairs) if pairs else "" for survey in (0, 1))
    where = f" on the other side of {elements(surveys, pairs_of(pieces))}"
    if one == other:
        return None, f"{surveys.second_name} and {surveys.first_name} have something else{where}"
    return None, two(surveys, "", one, other, where=where)


def _ground_rule(surveys: Surveys, pieces: list[Piece], key: tuple[str, ...]) -> Told:
    references = [{parts_of(p.pair)[i].side.reference for p in pieces if p.pair is not None} for i in (0, 1)]
    if references[0] == references[1]:
        return (
            None,
            f"{surveys.second_name} and {surveys.first_name} weigh the ground below the house differently",
        )
    texts = [
        "by the outside temperature" if "outside" in names else "by the annual mean temperature"
        for names in references
    ]
    if texts[0] == texts[1]:
        texts[0] = "partly by the annual mean temperature"
    return "ground_as_outside", (
        f"{surveys.second_name} has {elements(surveys, pairs_of(pieces))} lose to the ground {texts[1]}, {surveys.first_name} "
        f"{texts[0]}"
    )


def _bridges(surveys: Surveys, pieces: list[Piece], key: tuple[str, ...]) -> Told:
    first, second = surveys.first, surveys.second
    if first.surcharge_w_m2k == second.surcharge_w_m2k:
        if len(key) > 1:
            return None, (
                f"{surveys.second_name} and {surveys.first_name} have other junctions: {elements(surveys, pairs_of(pieces))}"
            )
        return None, f"{surveys.second_name} and {surveys.first_name} count thermal bridges differently"
    one, other = figures(first.surcharge_w_m2k, second.surcharge_w_m2k)
    bridges = [survey.house.house.thermal_bridges for survey in (first, second)]
    given = [b is not None and (b.surcharge_w_m2k, b.junctions) != (None, None) for b in bridges]
    says = two(surveys, "a surcharge for thermal bridges of ", one, other, "W/(m²·K)")
    return default((given[0], given[1]), surveys, says)


def _only_in_one(surveys: Surveys, pieces: list[Piece], key: tuple[str, ...]) -> Told:
    pairs = pairs_of(pieces)
    room = surveys.label(key[1])
    alone = surveys.alone.get(key[1])
    if alone is not None or not pairs:
        has = 1 if alone is not None and alone.first is None else 0
        size = "" if alone is None else f" ({number(alone.any.floor_area_m2)} m²)"
        return (
            "missing_room",
            f"{surveys.name(has)} has the room {room}{size}, {surveys.name(1 - has)} has not",
        )
    if key[-1] == "both":
        return "missing_opening", (
            f"{surveys.second_name} and {surveys.first_name} take different openings off {key[2]} in {room}"
        )
    has = 0 if key[-1] == "first" else 1
    parts = sorted((pair.any for pair in pairs), key=lambda part: part.kind)
    what = listed(_row(part) for part in parts)
    return "missing_element", f"{surveys.name(has)} has {what} in {room}, {surveys.name(1 - has)} has not"


def _row(part: Part) -> str:
    """Return an element or opening with its own area and U-value, a junction by its name."""
    if part.kind == "junction":
        return part.id
    return f"{part.id} ({number(part.net_m2)} m² with {number(part.u_value_w_m2k)} W/(m²·K))"


def _called_otherwise(surveys: Surveys, pieces: list[Piece], key: tuple[str, ...]) -> Told:
    _, first_room, first, second_room, second = key
    names = (surveys.matched.names[0][first_room], surveys.matched.names[1][second_room])
    rooms = [surveys.label(name) for name in names]
    if not first:
        one, other = (f"the room {first_room}", f"the room {second_room}")
    else:
        one, other = f"{first} in {rooms[0]}", f"{second} in {rooms[1]}"
    return "called_otherwise", (
        f"{surveys.first_name} has {one}, {surveys.second_name} {other}: perhaps the same, but nothing says so, so that "
        "each counts whole"
    )


_SAYS: dict[str, Callable[[Surveys, list[Piece], tuple[str, ...]], Told]] = {
    "u_value": _u_values,
    "dimensions": words_of_sizes.dimensions,
    "dimension_basis": words_of_sizes.dimension_basis,
    "room_temperature": _room_temperature,
    "outside_temperature": _outside,
    "annual_mean_temperature": _annual_mean,
    "other_side_temperature": _beside,
    "space_temperature": _space,
    "reduction_factor": _weights,
    "other_side": _other_side,
    "ground_rule": _ground_rule,
    "thermal_bridges": _bridges,
    "air_changes": words_of_air.air_changes,
    "airtightness": words_of_air.airtightness,
    "fans": words_of_air.fans,
    "flues": words_of_air.flues,
    "ventilation_method": words_of_air.method,
    "air_heat_capacity": words_of_air.capacity,
    "reheat": words_of_air.reheat,
    "only_in_one": _only_in_one,
    "called_otherwise": _called_otherwise,
    "beyond_rooms": words_of_air.beyond_rooms,
}


def sentence(bundle: Bundle, rooms: dict[str, float], surveys: Surveys) -> str:
    """Return a bundle in words, with what it is worth."""
    house_w = bundle.house_w
    moved = [(surveys.label(room), value) for room, value in rooms.items() if abs(value) >= 0.05]
    text = f"{bundle.says}: {watts(house_w)}."
    if abs(house_w) < 0.05 and len(moved) > 1:
        parts = listed(f"{name} {watts(value)}" for name, value in moved)
        text = f"{bundle.says}: 0 W in the house, but {parts}."
    return text[0].upper() + text[1:]
