"""The columns of the flat table: one row an element or opening, with its room's members beside it."""

from __future__ import annotations

from typing import Literal, NamedTuple

Of = Literal["room", "element", "construction", "row"]


class TableColumn(NamedTuple):
    """A column that is read."""

    name: str
    of: Of
    """Whose member it is; `row` where it says how rows belong together."""
    path: tuple[str, ...]
    number: bool
    meaning: str


def _column(name: str, of: Of, path: str, meaning: str, *, number: bool = False) -> TableColumn:
    return TableColumn(name, of, tuple(path.split(".")) if path else (), number, meaning)


COLUMNS = (
    _column("room", "row", "", "Id of the room; needed in every row."),
    _column("room_name", "room", "name", "A name for people."),
    _column("room_use", "room", "use", "Use of the room, as in the house document."),
    _column("room_temperature_c", "room", "design_temperature_c", "Design temperature.", number=True),
    _column("floor_area_m2", "room", "floor_area_m2", "Floor area; needed once for each room.", number=True),
    _column("room_height_m", "room", "height_m", "Height of the room; or its volume.", number=True),
    _column("room_volume_m3", "room", "volume_m3", "Air volume; or the height.", number=True),
    _column("air_changes", "room", "ventilation.air_changes", "Air changes per hour.", number=True),
    _column("supply_l_s", "room", "ventilation.supply_l_s", "Mechanical supply.", number=True),
    _column("extract_l_s", "room", "ventilation.extract_l_s", "Mechanical extract.", number=True),
    _column(
        "heat_recovery_efficiency",
        "room",
        "ventilation.heat_recovery_efficiency",
        "Temperature efficiency, 0 to 1.",
        number=True,
    ),
    _column("element", "element", "id", "Id of the element or opening; empty in a row for the room alone."),
    _column("opening_of", "row", "", "For an opening: id of the element in which it is, in a row above."),
    _column("construction", "element", "construction", "Id of the construction; by U-value where empty."),
    _column(
        "u_value_w_m2k",
        "construction",
        "u_value_w_m2k",
        "U-value; needed once for each construction.",
        number=True,
    ),
    _column("u_value_source", "construction", "source", "Where the U-value comes from."),
    _column(
        "table_row", "construction", "row", "Row of the table typical-constructions, in place of a U-value."
    ),
    _column("area_m2", "element", "area_m2", "Gross area; or length and height.", number=True),
    _column("length_m", "element", "length_m", "Length; with the height.", number=True),
    _column("height_m", "element", "height_m", "Height; with the length.", number=True),
    _column("boundary", "element", "boundary.to", "What is on the other side; empty for openings."),
    _column("other_room", "element", "boundary.room", "Id of the room on the other side."),
    _column(
        "other_temperature_c",
        "element",
        "boundary.temperature_c",
        "Temperature on the other side.",
        number=True,
    ),
    _column(
        "temperature_reduction_factor",
        "element",
        "boundary.temperature_reduction_factor",
        "Of an unheated space: 0 as warm as the room, 1 as cold as outside.",
        number=True,
    ),
)
"""Columns that are read."""

RESULT_COLUMNS = (
    (
        "kind",
        "`element`, `opening`, `junction`, or `room` for the room alone; rows of junctions are not read again.",
    ),
    (
        "declared_in",
        "Room in which an element between two rooms was declared, in the row of the other; not read again.",
    ),
    ("net_area_m2", "Area without openings."),
    ("thermal_bridge_w_k", "Thermal bridges of the row."),
    ("temperature_difference_k", "Effective difference."),
    ("heat_loss_w", "Heat loss: (net area · U-value + thermal bridges) · difference."),
    ("room_transmission_w", "The room's transmission, in its first row."),
    ("room_ventilation_w", "The room's ventilation, in its first row."),
    ("room_reheat_w", "The room's reheat, in its first row."),
    ("room_design_heat_load_w", "The room's heat load, in its first row."),
    ("warnings", "Codes of warnings that concern the row; those of the house are in the first row."),
)
"""Columns that results add. In a table that is sent they are left aside, so that an answer can be changed and sent again."""

BY_NAME = {column.name: column for column in COLUMNS}
RESULT_NAMES = tuple(name for name, _ in RESULT_COLUMNS)
EMPTY_ROW = dict.fromkeys(BY_NAME, "")
