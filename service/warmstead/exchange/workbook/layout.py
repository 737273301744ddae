"""The sheets and columns of the survey workbook, as data: writing, reading and the list of columns follow from it.

A column names a member of the survey's model. Its unit, choices, bounds and note come from the model's schema, so that
workbook and JSON cannot come to mean different things.
"""

from __future__ import annotations

from warmstead.exchange.workbook.columns import (
    ANY,
    Column,
    FormSheet,
    ListSheet,
    Path,
    Section,
    belongs,
    index,
    member,
)

__all__ = [
    "ANY",
    "EMPTY_MEMBERS",
    "FORMS",
    "LISTS",
    "SHEETS",
    "Column",
    "FormSheet",
    "ListSheet",
    "Path",
    "Section",
]

CONDITIONS = FormSheet(
    "Conditions",
    "The house as a whole, and the place where it stands.",
    (
        Section(
            "House",
            (
                member("Name", "house.name"),
                member("Dimensions", "house.dimensions"),
                member("Reheat", "house.reheat_w_m2"),
            ),
        ),
        Section(
            "Place",
            (
                member("Outside design temperature", "house.conditions.external_temperature_c"),
                member(
                    "Annual mean outside temperature", "house.conditions.annual_mean_external_temperature_c"
                ),
                member("National annex", "house.conditions.national_annex"),
                member("Ground rule", "house.conditions.ground_rule"),
                member("Ground water", "house.conditions.ground_water"),
            ),
        ),
        Section(
            "Ventilation",
            (
                member("Method", "house.ventilation.method"),
                member("Heat capacity of air", "house.ventilation.air_heat_capacity_wh_m3k"),
                member("Edition of EN 12831", "house.ventilation.edition"),
                member("Air changes at 50 Pa", "house.ventilation.air_changes_at_50pa"),
                member("Air permeability at 50 Pa", "house.ventilation.air_permeability_50pa_m3_h_m2"),
                member("Envelope area of the test", "house.ventilation.envelope_area_m2"),
                member("Shielding", "house.ventilation.shielding"),
                member("Height above ground", "house.ventilation.height_above_ground_m"),
            ),
        ),
        Section(
            "Thermal bridges",
            (
                member("Surcharge", "house.thermal_bridges.surcharge_w_m2k"),
                member("Dimensions of these values", "house.thermal_bridges.dimensions"),
            ),
        ),
    ),
)

WATER = FormSheet(
    "Water and hot water",
    "Water temperatures for emitters and heat pumps, hot water, and where a unit is too small or too large.",
    (
        Section(
            "Heating water",
            (
                member("Flow temperature", "flow_temperature_c"),
                member("Return temperature", "return_temperature_c"),
                member("Base temperature", "base_temperature_c"),
            ),
        ),
        Section(
            "Hot water",
            (
                member("Energy for hot water", "hot_water.energy_kwh_per_day"),
                member("Flow temperature for the store", "hot_water.storage_temperature_c"),
            ),
        ),
        Section(
            "Verdict",
            (
                member("Least coverage", "thresholds.minimum_coverage"),
                member("Greatest coverage", "thresholds.maximum_coverage"),
            ),
        ),
    ),
)

_HOUSE_CONSTRUCTION: Path = ("house", "constructions", ANY)
_ROOM: Path = ("house", "rooms", ANY)

CONSTRUCTIONS = ListSheet(
    "Constructions",
    _HOUSE_CONSTRUCTION,
    "Every construction by its id: walls, floors, roofs, windows, doors. Parts follow on the next sheets.",
    (
        belongs("Construction", None, "Id of the construction, unique on this sheet.", 26),
        member("Kind", "kind", 14),
        member("U-value", "u_value_w_m2k"),
        member("Source of the U-value", "source", 30),
        member("Table row", "row", 34, refers_to="Typical constructions"),
        member("Thickness for the table row", "thickness_mm"),
        member("Heat flow", "heat_flow"),
        member("External side", "external_side"),
        member("Internal surface resistance", "internal_surface_resistance_m2k_w"),
        member("External surface resistance", "external_surface_resistance_m2k_w"),
        member("Edition of ISO 6946", "edition"),
    ),
    landscape=True,
)

_OF_CONSTRUCTION = "Id of the construction on the sheet Constructions to which this row belongs."

LAYERS = ListSheet(
    "Layers",
    (*_HOUSE_CONSTRUCTION, "layers", ANY),
    "Layers of layered constructions: the rows of one construction from inside to outside.",
    (
        belongs("Construction", "Constructions", _OF_CONSTRUCTION, 26),
        member("Kind", "kind"),
        member("Thickness", "thickness_mm"),
        member("Conductivity", "conductivity_w_mk"),
        member("Material", "material", 32, refers_to="Materials"),
        member("Resistance", "resistance_m2k_w"),
        member("Ventilation of an air layer", "ventilation", 19),
        member("Openings along a length", "openings_mm2_per_m"),
        member("Openings over an area", "openings_mm2_per_m2"),
        member("Emissivity", "emissivity"),
        member("Shape of a tapered layer", "shape", 26),
        member("Least thickness", "minimum_thickness_mm"),
        member("Greatest thickness", "maximum_thickness_mm"),
        member("Middle thickness", "intermediate_thickness_mm"),
    ),
    landscape=True,
)

LAYER_BRIDGES = ListSheet(
    "Layer bridges",
    (*_HOUSE_CONSTRUCTION, "layers", ANY, "bridges", ANY),
    "Studs, joists, battens, joints: parts of a layer that conduct otherwise than the rest.",
    (
        belongs("Construction", "Constructions", _OF_CONSTRUCTION, 26),
        belongs("Layer", None, "Number of the layer within its construction; the innermost is 1.", 10),
        member("Fraction", "fraction"),
        member("Conductivity", "conductivity_w_mk"),
        member("Material", "material", 32, refers_to="Materials"),
        member("Path", "path", 14),
    ),
)

CORRECTIONS = ListSheet(
    "Corrections",
    (*_HOUSE_CONSTRUCTION, "corrections", ANY),
    "Corrections to layered constructions: air gaps, fasteners, rain on inverted roofs.",
    (
        belongs("Construction", "Constructions", _OF_CONSTRUCTION, 26),
        belongs(
            "Correction",
            None,
            "What is corrected for; fasteners may have several rows, the others one.",
            16,
            ("air_gaps", "fasteners", "inverted_roof"),
        ),
        index("Layer", "layer"),
        member("Level of air gaps", "level"),
        member("Conductivity of a fastener", "conductivity_w_mk"),
        member("Cross-section of a fastener", "cross_section_mm2"),
        member("Fasteners", "count_per_m2"),
        member("Penetration", "penetration_mm"),
        member("Rainfall", "rainfall_mm_per_day"),
        member("Drainage factor", "drainage_factor"),
        member("Heat loss factor", "heat_loss_factor", 14),
    ),
    landscape=True,
)

WINDOWS = ListSheet(
    "Windows",
    _HOUSE_CONSTRUCTION,
    "The parts of windows and doors whose kind on the sheet Constructions is window.",
    (
        belongs("Construction", "Constructions", _OF_CONSTRUCTION, 26),
        member("Glazing area", "glazing_area_m2"),
        member("Frame area", "frame_area_m2"),
        member("U-value of glazing", "u_glazing_w_m2k"),
        member("U-value of frame", "u_frame_w_m2k"),
        member("Glazing perimeter", "glazing_perimeter_m"),
        member("Psi of glazing edge", "psi_glazing_w_mk"),
        member("Panel area", "panel_area_m2"),
        member("U-value of panel", "u_panel_w_m2k"),
        member("Panel perimeter", "panel_perimeter_m"),
        member("Psi of panel edge", "psi_panel_w_mk"),
    ),
    landscape=True,
    kind="window",
)

GROUND_FLOORS = ListSheet(
    "Ground floors",
    _HOUSE_CONSTRUCTION,
    "Floors and basement walls whose kind on the sheet Constructions is ground_floor.",
    (
        belongs("Construction", "Constructions", _OF_CONSTRUCTION, 24),
        member("Floor", "floor", 15),
        member("Area of the whole floor", "area_m2"),
        member("Exposed perimeter", "exposed_perimeter_m"),
        member("Wall thickness", "wall_thickness_mm"),
        member("Soil conductivity", "soil_conductivity_w_mk"),
        member("Floor resistance", "floor_resistance_m2k_w"),
        member("Edge insulation", "edge_insulation.position"),
        member("Width of edge insulation", "edge_insulation.width_m"),
        member("Thickness of edge insulation", "edge_insulation.thickness_mm"),
        member("Conductivity of edge insulation", "edge_insulation.conductivity_w_mk", 13),
        member("Height above ground", "height_above_ground_m"),
        member("Ventilation opening", "ventilation_opening_m2_per_m"),
        member("Wind speed", "wind_speed_m_s"),
        member("Wind shielding", "wind_shielding"),
        member("U-value of underfloor walls", "underfloor_wall_u_value_w_m2k"),
        member("Resistance on the ground", "ground_resistance_m2k_w"),
        member("Depth", "depth_m"),
        member("Wall resistance", "wall_resistance_m2k_w"),
    ),
    landscape=True,
    kind="ground_floor",
)

UNHEATED_SPACES = ListSheet(
    "Unheated spaces",
    ("house", "unheated_spaces", ANY),
    "Garages, lofts, cellars whose temperature follows from their own balance.",
    (
        member("Space", "id", 18),
        member("Name", "name", 28),
        member("Volume", "volume_m3"),
        member("Air changes", "air_changes"),
    ),
)

ROOMS = ListSheet(
    "Rooms",
    _ROOM,
    "Heated rooms.",
    (
        member("Room", "id", 16),
        member("Name", "name", 24),
        member("Use", "use", 14),
        member("Design temperature", "design_temperature_c"),
        member("Floor area", "floor_area_m2"),
        member("Height", "height_m"),
        member("Volume", "volume_m3"),
        member("Air changes", "ventilation.air_changes"),
        member("Supply air", "ventilation.supply_l_s"),
        member("Extract air", "ventilation.extract_l_s"),
        member("Heat recovery efficiency", "ventilation.heat_recovery_efficiency"),
        member("Exposed openings", "ventilation.exposed_openings"),
    ),
    landscape=True,
)

FLUES = ListSheet(
    "Flues",
    (*_ROOM, "flues", ANY),
    "Chimneys and flues that open into rooms.",
    (
        belongs("Room", "Rooms", "Id of the room into which it opens."),
        member("Kind", "kind", 16),
        member("Air", "air_l_s"),
    ),
)

ELEMENTS = ListSheet(
    "Elements",
    (*_ROOM, "elements", ANY),
    "Walls, floors, ceilings, roofs, and the openings in them, each with a construction of its own.",
    (
        belongs("Room", "Rooms", "Id of the room that it bounds; or the unheated space.", 16),
        belongs(
            "Unheated space", "Unheated spaces", "Id of the unheated space that it bounds; or the room.", 14
        ),
        member("Element", "id", 20),
        belongs(
            "Opening of",
            None,
            "For a window or door: id of the element in which it is, in the same room.",
            18,
        ),
        member("Construction", "construction", 26, refers_to="Constructions"),
        member("Area", "area_m2"),
        member("Length", "length_m"),
        member("Height", "height_m"),
        member("Boundary", "boundary.to", 15),
        member("Other room", "boundary.room", 14, refers_to="Rooms"),
        member("Other space", "boundary.space", 14, refers_to="Unheated spaces"),
        member("Other temperature", "boundary.temperature_c"),
        member("Temperature reduction factor", "boundary.temperature_reduction_factor"),
    ),
    landscape=True,
)

JUNCTIONS = ListSheet(
    "Junctions",
    ("house", "thermal_bridges", "junctions", ANY),
    "Linear thermal bridges one by one, in place of the surcharge on the sheet Conditions.",
    (
        member("Junction", "id", 18),
        member("Room", "room", 16, refers_to="Rooms"),
        member("Psi", "psi_w_mk"),
        member("Length", "length_m"),
        member("Boundary", "boundary.to", 15),
        member("Other room", "boundary.room", 14, refers_to="Rooms"),
        member("Other space", "boundary.space", 14, refers_to="Unheated spaces"),
        member("Other temperature", "boundary.temperature_c"),
        member("Temperature reduction factor", "boundary.temperature_reduction_factor"),
    ),
    landscape=True,
)

EMITTERS = ListSheet(
    "Emitters",
    (*_ROOM, "emitters", ANY),
    "Radiators, underfloor panels and fan convectors of the rooms.",
    (
        belongs("Room", "Rooms", "Id of the room that it heats.", 16),
        member("Emitter", "id", 18),
        member("Kind", "kind", 14),
        member("Circuit", "circuit", 12, refers_to="Circuits"),
        member("Standard output", "standard_output_w"),
        member("Standard excess temperature", "standard_excess_temperature_k"),
        member("Exponent", "exponent"),
        member("Output factor", "output_factor"),
        member("Panel area", "area_m2"),
        member("Pipe spacing", "pipe_spacing_mm"),
        member("Covering resistance", "covering_resistance_m2k_w"),
        member("Screed thickness", "screed_thickness_mm"),
        member("Screed conductivity", "screed_conductivity_w_mk", 13),
        member("Pipe outside diameter", "pipe_outside_diameter_mm"),
        member("Pipe wall", "pipe_wall_thickness_mm"),
        member("Pipe conductivity", "pipe_conductivity_w_mk", 13),
        member("System", "system", 9),
        member("Plate width", "conducting_device.width_mm"),
        member("Plate thickness", "conducting_device.thickness_mm"),
        member("Plate conductivity", "conducting_device.conductivity_w_mk", 13),
        member("Zone", "zone", 12),
        member("Resistance below", "resistance_below_m2k_w"),
        member("Temperature below", "temperature_below_c"),
    ),
    landscape=True,
)

FAN_CONVECTOR_OUTPUTS = ListSheet(
    "Fan convector outputs",
    (*_ROOM, "emitters", ANY, "outputs", ANY),
    "Tested points of fan convectors, rising in excess temperature.",
    (
        belongs("Room", "Rooms", "Id of the room that it heats.", 16),
        belongs("Emitter", None, "Id of the fan convector on the sheet Emitters, in the same room.", 18),
        member("Excess temperature", "excess_temperature_k"),
        member("Output", "output_w"),
    ),
)

CIRCUITS = ListSheet(
    "Circuits",
    ("circuits", ANY),
    "Circuits with water temperatures of their own, behind a mixer.",
    (
        member("Circuit", "id", 18),
        member("Flow temperature", "flow_temperature_c"),
        member("Return temperature", "return_temperature_c"),
    ),
)

CANDIDATES = ListSheet(
    "Candidates",
    ("candidates", ANY),
    "Heat pumps to compare.",
    (
        member("Candidate", "id", 18),
        member("Name", "name", 30),
        member("Backup heater", "backup_heater_w"),
        member("Rating basis", "rating_basis"),
    ),
)

PERFORMANCE = ListSheet(
    "Performance",
    ("candidates", ANY, "performance", ANY),
    "The makers' tables: every outside temperature with every flow temperature of a candidate.",
    (
        belongs("Candidate", "Candidates", "Id of the candidate."),
        member("Outside temperature", "external_temperature_c"),
        member("Flow temperature", "flow_temperature_c"),
        member("Capacity", "capacity_w"),
        member("Coefficient of performance", "coefficient_of_performance"),
        member("Least capacity", "minimum_capacity_w"),
    ),
)

FORMS: tuple[FormSheet, ...] = (CONDITIONS, WATER)
LISTS: tuple[ListSheet, ...] = (
    CONSTRUCTIONS,
    LAYERS,
    LAYER_BRIDGES,
    CORRECTIONS,
    WINDOWS,
    GROUND_FLOORS,
    UNHEATED_SPACES,
    ROOMS,
    FLUES,
    ELEMENTS,
    JUNCTIONS,
    EMITTERS,
    FAN_CONVECTOR_OUTPUTS,
    CIRCUITS,
    CANDIDATES,
    PERFORMANCE,
)
"""In an order in which whatever a row belongs to comes before it."""

SHEETS: tuple[FormSheet | ListSheet, ...] = (
    CONDITIONS,
    ROOMS,
    ELEMENTS,
    CONSTRUCTIONS,
    LAYERS,
    LAYER_BRIDGES,
    WINDOWS,
    GROUND_FLOORS,
    CORRECTIONS,
    UNHEATED_SPACES,
    JUNCTIONS,
    FLUES,
    EMITTERS,
    FAN_CONVECTOR_OUTPUTS,
    WATER,
    CIRCUITS,
    CANDIDATES,
    PERFORMANCE,
)
"""In the order in which they stand in the workbook."""

EMPTY_MEMBERS = "Empty members"
"""A sheet that is there only when a document from JSON has members without anything in them."""
