"""What a reference case is: the one definition, from which `case.schema.json` is generated."""

from __future__ import annotations

from decimal import Decimal
from typing import Annotated, Any, Literal, Self

from pydantic import BaseModel, ConfigDict, Discriminator, Field, JsonValue, Tag, model_validator

Slug = Annotated[str, Field(pattern=r"^[a-z0-9]+(-[a-z0-9]+)*$", max_length=80)]
Text = Annotated[str, Field(min_length=1, max_length=1000)]
Pointer = Annotated[str, Field(pattern=r"^(/[^/]*)+$", description="A JSON pointer (RFC 6901).")]

PROVENANCES = (
    "published_example",
    "published_table",
    "hand_derived",
    "analytical",
    "independent_code",
    "common_practice",
    "contract",
)
Provenance = Literal[
    "published_example",
    "published_table",
    "hand_derived",
    "analytical",
    "independent_code",
    "common_practice",
    "contract",
]


class _Record(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, allow_inf_nan=False)


class Locator(_Record):
    """Where in the source: as many of these as the source has."""

    clause: Text | None = None
    section: Text | None = None
    equation: Text | None = None
    example: Text | None = None
    table: Text | None = None
    row: Text | None = None
    page: Text | None = None


class CaseSource(_Record):
    """Which source, where in it, and how it was read."""

    key: Annotated[Slug, Field(description="An entry of sources.json.")]
    locator: Locator
    read_from: Annotated[
        Literal["original", "transcription", "memory", "none"],
        Field(description="'memory': remembered, the source was not at hand; nobody here saw the figure."),
    ]
    note: Text | None = None


class Request(_Record):
    """One HTTP request. `raw_body` is for what a JSON body cannot say, such as NaN."""

    method: Literal["POST", "GET"]
    path: Annotated[str, Field(pattern=r"^/v1/[a-z0-9/-]+$")]
    body: dict[str, JsonValue] | None = None
    raw_body: Text | None = None

    @model_validator(mode="after")
    def _one_body(self) -> Self:
        given = (self.body is not None) + (self.raw_body is not None)
        if given != (1 if self.method == "POST" else 0):
            raise ValueError("POST has exactly one of body and raw_body, GET has neither")
        return self


WIDEST_SHARE = Decimal("0.1")
"""No tolerance is wider than this share of the printed number, whatever the reason."""
WIDEST_AT_ZERO = 10
"""Nor, where zero is printed, than so many times half a unit in its last place."""
WIDEST_TEMPERATURE = Decimal(1)
"""Nor, for a temperature, than one degree: a share of it means nothing, as its zero is arbitrary."""
_TEMPERATURES = ("Cel", "[degF]")


class AbsoluteTolerance(_Record):
    """A tolerance wider than the printed digits, with the reason for it."""

    absolute: Annotated[
        float,
        Field(
            gt=0,
            description="In the unit of the printed number; at most a tenth of it, one degree for a temperature.",
        ),
    ]
    reason: Annotated[Text, Field(min_length=15, description="Why the printed digits are not enough.")]


class NumberExpectation(_Record):
    """A number as the source prints it."""

    pointer: Pointer
    printed: Annotated[str, Field(pattern=r"^-?[0-9]+(\.[0-9]+)?$", description="The source's own digits.")]
    unit: Text
    tolerance: Annotated[
        Literal["printed"] | AbsoluteTolerance,
        Field(description="'printed': half a unit in the last printed place, limits included."),
    ]
    si_factor: Annotated[
        float | None,
        Field(gt=0, description="Multiplies the printed number, and its tolerance, into the answer's unit."),
    ] = None

    @property
    def half_last_place(self) -> Decimal:
        """Half a unit in the last printed place."""
        exponent = Decimal(self.printed).as_tuple().exponent
        assert isinstance(exponent, int)  # the pattern admits no NaN and no infinity
        return Decimal(5).scaleb(exponent - 1)

    @property
    def widest_difference(self) -> Decimal:
        """The tolerance, in the unit of the printed number."""
        if isinstance(self.tolerance, AbsoluteTolerance):
            return Decimal(repr(self.tolerance.absolute))
        return self.half_last_place

    @property
    def _widest_tolerance(self) -> Decimal:
        if self.unit in _TEMPERATURES:
            return WIDEST_TEMPERATURE
        return abs(Decimal(self.printed)) * WIDEST_SHARE or self.half_last_place * WIDEST_AT_ZERO

    @model_validator(mode="after")
    def _tolerance_means_something(self) -> Self:
        tolerance = self.widest_difference
        if tolerance < self.half_last_place:
            raise ValueError(f"a tolerance of {tolerance} is tighter than the digits of {self.printed}")
        if tolerance > self._widest_tolerance:
            raise ValueError(
                f"a tolerance of {tolerance} on {self.printed} {self.unit} is too wide to check anything: "
                f"at most {self._widest_tolerance}"
            )
        return self


class EqualExpectation(_Record):
    """A text or a truth value, met exactly."""

    pointer: Pointer
    equals: str | bool


class AbsentExpectation(_Record):
    """A member that must not be there, while the object that would hold it is."""

    pointer: Pointer
    absent: Literal[True]


def _kind(value: Any) -> str | None:
    keys = value if isinstance(value, dict) else value.__dict__
    for name in ("printed", "equals", "absent"):
        if name in keys:
            return name
    return None


ValueExpectation = Annotated[
    Annotated[NumberExpectation, Tag("printed")]
    | Annotated[EqualExpectation, Tag("equals")]
    | Annotated[AbsentExpectation, Tag("absent")],
    Discriminator(
        _kind,
        custom_error_type="value_expectation",
        custom_error_message="an expected value has one of: printed, equals, absent",
    ),
]


class ErrorExpectation(_Record):
    """One error of the problem document, by its exact pointer or by the object it must lie in."""

    pointer: Annotated[Pointer | None, Field(description="Into the request, met exactly.")] = None
    within: Annotated[Pointer | None, Field(description="The error points here or deeper.")] = None
    code: Text | None = None

    @model_validator(mode="after")
    def _one_place(self) -> Self:
        if (self.pointer is None) == (self.within is None):
            raise ValueError("an expected error has exactly one of pointer and within")
        return self


class Expectation(_Record):
    """What the answer must be."""

    status: Annotated[int, Field(ge=200, le=499)]
    values: tuple[ValueExpectation, ...] = ()
    warnings: Annotated[
        tuple[Annotated[str, Field(pattern=r"^[a-z_]+\.([a-z0-9_.]+|\*)$")], ...],
        Field(
            description="Codes that the answer's warnings must have; 'default.*' means any of that family."
        ),
    ] = ()
    errors: Annotated[
        tuple[ErrorExpectation, ...],
        Field(description="The errors of the problem document: each of these and no other."),
    ] = ()

    @model_validator(mode="after")
    def _checks_something(self) -> Self:
        if self.status < 400 and (self.errors or not (self.values or self.warnings)):
            raise ValueError("an expected success names values or warnings, and no errors")
        if self.status >= 400 and (self.values or self.warnings):
            raise ValueError("an expected refusal names errors, no values and no warnings")
        if self.status == 422 and not self.errors:
            raise ValueError("a refusal with 422 names the errors it expects")
        return self


class Case(_Record):
    """One file, one case, one request."""

    schema_version: Literal[1]
    id: Annotated[Slug, Field(description="Also the file's name. Never changes.")]
    title: Annotated[Text, Field(description="The behaviour, stated as a fact.")]
    question: Annotated[Slug, Field(description="Also the folder's name.")]
    method: Annotated[str, Field(pattern=r"^[a-z0-9_]+$", description="The standard or rule under check.")]
    source: CaseSource
    provenance: Provenance
    request: Request
    expect: Expectation
    flags: Annotated[tuple[Annotated[str, Field(pattern=r"^[a-z0-9_]+$")], ...], Field(min_length=1)]
    derivation: Annotated[
        tuple[Text, ...],
        Field(description="For hand_derived: the sum, line by line."),
    ] = ()

    @model_validator(mode="after")
    def _derivation_belongs_to_provenance(self) -> Self:
        if (self.provenance == "hand_derived") != bool(self.derivation):
            raise ValueError("a hand_derived case has a derivation, and no other case has one")
        return self

    @model_validator(mode="after")
    def _published_is_located(self) -> Self:
        if self.provenance.startswith("published_") and (
            self.source.read_from == "none" or not self.source.locator.model_dump(exclude_none=True)
        ):
            raise ValueError("a published figure says where it stands and how it was read")
        return self

    @model_validator(mode="after")
    def _path_asks_the_question(self) -> Self:
        if self.request.path.split("/")[2] != self.question:
            raise ValueError(f"the path {self.request.path} does not ask the question {self.question!r}")
        return self

    @model_validator(mode="after")
    def _flags_once(self) -> Self:
        if len(set(self.flags)) != len(self.flags):
            raise ValueError("a flag is named twice")
        return self


def case_schema() -> dict[str, Any]:
    """Return the JSON Schema of a reference case, as `reference_cases/case.schema.json` holds it."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        **Case.model_json_schema(),
        "title": "Reference case",
    }
