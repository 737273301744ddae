"""What is found while a document is read and resolved: reasons to refuse it, and warnings beside an answer.

Refused    carries every Problem found, each with a JSON pointer, a code of the published list and a text
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, Literal, NamedTuple

from pydantic import Field
from typing_extensions import TypedDict

from warmstead.standards.errors import MethodError, NotPhysical

ProblemCode = Literal[
    "ambiguous",
    "contradiction",
    "duplicate_id",
    "incomplete",
    "insufficient_data",
    "invalid_json",
    "invalid_text",
    "missing_field",
    "not_a_number",
    "not_allowed_here",
    "not_covered",
    "not_found",
    "null_value",
    "out_of_range",
    "unknown_choice",
    "unknown_field",
    "unreachable",
    "wrong_count",
    "wrong_type",
]

WarningCode = Literal[
    "assumption.air_changes_exclude_mechanical",
    "assumption.all_heat_metered",
    "assumption.circuits_move_together",
    "assumption.constant_base_use",
    "assumption.constant_inside_temperature",
    "assumption.correction_left_out",
    "assumption.degree_day_formula",
    "assumption.drawn_again",
    "assumption.efficiency_exact",
    "assumption.floor_loss_kept",
    "assumption.flue_air_added",
    "assumption.formula_value",
    "assumption.ground_response",
    "assumption.heating_season_only",
    "assumption.independent_inputs",
    "assumption.layers_added_to_resistance",
    "assumption.mean_temperature",
    "assumption.neighbour_left_out",
    "assumption.no_gains",
    "assumption.sheets_left_out",
    "assumption.solar_not_separated",
    "assumption.surface_resistance_replaced",
    "assumption.survey_air_kept",
    "assumption.survey_exact",
    "caution.asbestos",
    "caution.background_ventilation",
    "caution.cables_in_insulation",
    "caution.closed_chimney",
    "caution.defrost_gap",
    "caution.electrical_supply",
    "caution.filled_cavity",
    "caution.fire_behaviour",
    "caution.flue_and_extract",
    "caution.hot_surface",
    "caution.internal_insulation",
    "caution.legionella",
    "caution.listed_building",
    "caution.loft_frost",
    "caution.method_limit",
    "caution.minimum_water_volume",
    "caution.open_flue",
    "caution.outdoor_pipes",
    "caution.peak_rating",
    "caution.radon",
    "caution.refrigerant",
    "caution.scald",
    "caution.short_in_milder_weather",
    "caution.surface_limit",
    "caution.suspended_floor",
    "caution.unvented_cylinder",
    "default.accepted_half_width",
    "default.air_changes",
    "default.air_heat_capacity",
    "default.air_layer_emissivity",
    "default.air_layer_openings",
    "default.altitude",
    "default.base_temperature",
    "default.base_use",
    "default.calorific_value",
    "default.coverage_limits",
    "default.design_temperature",
    "default.dimensions",
    "default.edition",
    "default.efficiency",
    "default.exceedance",
    "default.exponent",
    "default.exposed_openings",
    "default.flue_air",
    "default.ground_rule",
    "default.ground_water",
    "default.height",
    "default.interface_temperatures",
    "default.mean_air_changes",
    "default.monte_carlo",
    "default.national_annex",
    "default.pipe",
    "default.rating_basis",
    "default.reading_days",
    "default.regression",
    "default.reheat",
    "default.room_use",
    "default.shielding",
    "default.soil_conductivity",
    "default.standard_excess_temperature",
    "default.thermal_bridges",
    "default.uncertainty",
    "default.underfloor_below",
    "default.underfloor_space",
    "default.underfloor_system",
    "default.underfloor_zone",
    "default.unheated_space_air_changes",
    "default.ventilation_method",
    "memory.equation_table",
    "memory.table_row",
    "unusual.air_changes",
    "unusual.already_reached",
    "unusual.annual_mean",
    "unusual.base_temperature",
    "unusual.base_use",
    "unusual.declared_twice",
    "unusual.dimension_basis",
    "unusual.draws_left_out",
    "unusual.emitter_area",
    "unusual.floor_area",
    "unusual.heat_recovery_without_supply",
    "unusual.height",
    "unusual.load",
    "unusual.measure_without_effect",
    "unusual.no_temperature_drop",
    "unusual.outside_table",
    "unusual.reading",
    "unusual.room_temperature",
    "unusual.solar_aperture",
    "unusual.u_value",
    "unusual.volume",
    "unusual.warmer_below",
]


class Warning(TypedDict):
    """Something that the reader of an answer has to know."""

    code: Annotated[WarningCode, Field(description="Code of the published list.")]
    pointer: Annotated[str, Field(description="JSON pointer (RFC 6901) into the request.")]
    detail: Annotated[str, Field(description="What was taken, seen or to be minded, in words.")]


class Problem(NamedTuple):
    """One reason to refuse a request."""

    pointer: str
    code: ProblemCode
    detail: str


class Refused(Exception):
    """A request is refused, for every reason that could be found at once.

    Args:
        problems: the reasons.
        unlisted: further reasons beside these, only counted: nobody mends more in one go.
    """

    def __init__(self, problems: list[Problem], unlisted: int = 0) -> None:
        super().__init__("; ".join(f"{p.pointer}: {p.detail}" for p in problems))
        self.problems = problems
        self.unlisted = unlisted


def code_of(error: MethodError) -> ProblemCode:
    """Return the code for what an equation refuses."""
    return "contradiction" if isinstance(error, NotPhysical) else "not_covered"


class Findings:
    """Collects problems and warnings in the order in which they are met."""

    def __init__(self) -> None:
        self.problems: list[Problem] = []
        self._noted: set[Problem] = set()
        self._warnings: list[Warning] = []
        self._warned: set[tuple[str, str]] = set()
        self._from_memory: dict[str, list[str]] = {}

    def refuse(self, code: ProblemCode, pointer: str, detail: str) -> None:
        """Note a reason to refuse the request, the same one once."""
        problem = Problem(pointer, code, detail)
        if problem not in self._noted:
            self._noted.add(problem)
            self.problems.append(problem)

    def warn(self, code: WarningCode, pointer: str, detail: str) -> None:
        """Note a warning, once for each code and place."""
        if (code, pointer) not in self._warned:
            self._warned.add((code, pointer))
            self._warnings.append({"code": code, "pointer": pointer, "detail": detail})

    def warn_of_memory(self, table: str, pointer: str) -> None:
        """Note that a row of a table which was used is from memory."""
        self._from_memory.setdefault(table, []).append(pointer)

    def warnings(self, concerns: Callable[[str], bool] = lambda pointer: True) -> list[Warning]:
        """Return the warnings, those of memory once a table at the first place that used a row of it.

        Args:
            concerns: whether a place is of concern; all are by default.
        """
        listed = [warning for warning in self._warnings if concerns(warning["pointer"])]
        for table, pointers in self._from_memory.items():
            pointer = next(filter(concerns, pointers), None)
            if pointer is not None:
                detail = (
                    f"taken from a row of the table {table} that is from memory: nobody here saw its source"
                )
                listed.append({"code": "memory.table_row", "pointer": pointer, "detail": detail})
        return listed

    def stop_if_refused(self, beyond: int = 0) -> None:
        """Raise Refused with all problems so far, if there are more than a number that were known before."""
        if len(self.problems) > beyond:
            raise Refused(self.problems)
