"""A house and its losses as a flat table."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from warmstead.building.findings import Warning
from warmstead.exchange.element_table.columns import COLUMNS, RESULT_NAMES
from warmstead.questions.house_loss import HouseLossResult

Json = Mapping[str, Any]
Cell = str | float | None
Row = dict[str, Cell]


def header(*, results: bool) -> list[Cell]:
    """Return the first line."""
    names: list[Cell] = [column.name for column in COLUMNS]
    return names + list(RESULT_NAMES) if results else names


def rows(house: Json, result: HouseLossResult, *, results: bool) -> Iterator[list[Cell]]:
    """Go through the rows of a table.

    Args:
        house: the house document.
        result: its losses.
        results: whether rows say what they lose, or only what was surveyed.
    """
    told = _by_place(result["warnings"], house) if results else {}
    names = [str(name) for name in header(results=results)]
    temperatures = {space["id"]: space["temperature_c"] for space in result["unheated_spaces"]}
    for index, (room, loss) in enumerate(zip(house["rooms"], result["rooms"], strict=True)):
        surveyed = _surveyed(room, f"/house/rooms/{index}", temperatures)
        first = True
        for element in _rows_of(loss["elements"]):
            row, pointer = _element(room, element, surveyed, house)
            if not results and (
                element is not None and (element["kind"] == "junction" or "declared_in" in element)
            ):
                continue
            if first:
                row |= _of_room(room)
                row |= _room_results(loss)
            codes = told.get(pointer, [])
            if first:
                codes = [
                    *(told.get("", []) if index == 0 else []),
                    *told.get(f"/house/rooms/{index}", []),
                    *codes,
                ]
            row["warnings"] = " ".join(dict.fromkeys(codes))
            first = False
            yield [row.get(name) for name in names]


def _rows_of(elements: Sequence[Any]) -> Sequence[Any]:
    """Return what has a row: the elements of a room, or the room alone."""
    return elements or [None]


def _surveyed(room: Json, at: str, temperatures: Mapping[str, float]) -> dict[str, tuple[str, Row]]:
    """Return pointer and surveyed members of each element and opening of a room, by id."""
    found: dict[str, tuple[str, Row]] = {}
    for number, element in enumerate(room["elements"]):
        pointer = f"{at}/elements/{number}"
        row = _members(element, "element")
        space = element["boundary"].get("space")
        if space is not None:
            row["other_temperature_c"] = temperatures[space]
        found[element["id"]] = (pointer, row)
        for place, opening in enumerate(element.get("openings", ())):
            row = {**_members(opening, "element"), "opening_of": element["id"]}
            found[opening["id"]] = (f"{pointer}/openings/{place}", row)
    return found


def _element(room: Json, loss: Any, surveyed: Mapping[str, tuple[str, Row]], house: Json) -> tuple[Row, str]:
    row: Row = {"room": room["id"]}
    if loss is None:
        return {**row, "kind": "room"}, ""
    pointer = ""
    if "declared_in" in loss:
        row |= {"element": loss["id"], "construction": loss["construction"], "boundary": "room"}
        row |= {"other_room": loss["adjoins"], "declared_in": loss["declared_in"]}
    elif loss["id"] in surveyed:
        pointer, members = surveyed[loss["id"]]
        row |= members
    else:
        row |= {"element": loss["id"], "boundary": loss["boundary"]}
    return {
        **row,
        **_construction(house["constructions"].get(loss["construction"]), loss),
        "kind": loss["kind"],
        "net_area_m2": loss["area_m2"],
        "thermal_bridge_w_k": loss["thermal_bridge_w_k"],
        "temperature_difference_k": loss["temperature_difference_k"],
        "heat_loss_w": loss["heat_loss_w"],
    }, pointer


def _construction(construction: Json | None, loss: Any) -> Row:
    """Return how a table says what an element is made of: by the U-value that it has."""
    if construction is None or loss["kind"] == "junction":
        return {}
    source = construction.get("source") or f"worked out, kind {construction['kind']}"
    return {"u_value_w_m2k": loss["u_value_w_m2k"], "u_value_source": source}


def _of_room(room: Json) -> Row:
    return _members(room, "room")


def _room_results(loss: Any) -> Row:
    return {
        "room_transmission_w": loss["transmission_w"],
        "room_ventilation_w": loss["ventilation_w"],
        "room_reheat_w": loss["reheat_w"],
        "room_design_heat_load_w": loss["design_heat_load_w"],
    }


def _members(item: Json, of: str) -> Row:
    row: Row = {}
    for column in COLUMNS:
        if column.of == of:
            value: Any = item
            for step in column.path:
                value = value.get(step) if isinstance(value, Mapping) else None
            row[column.name] = value
    return row


def _by_place(warnings: Sequence[Warning], house: Json) -> dict[str, list[str]]:
    """Return codes of warnings by the row that they concern: an element's or opening's, a room's first, else the first."""
    told: dict[str, list[str]] = {}
    for warning in warnings:
        tokens = warning["pointer"].split("/")
        place = ""
        if tokens[1:3] == ["house", "rooms"] and len(tokens) > 3:
            length = 4
            while len(tokens) >= length + 2 and tokens[length] in ("elements", "openings"):
                length += 2
            place = "/".join(tokens[:length])
        told.setdefault(place, []).append(warning["code"])
    return told
