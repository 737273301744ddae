"""The published list of codes."""

from __future__ import annotations

from typing import Annotated

from fastapi import FastAPI
from pydantic import Field
from typing_extensions import TypedDict

from warmstead.building.codes import PROBLEMS, WARNINGS
from warmstead.building.findings import ProblemCode, WarningCode
from warmstead.survey.document import described_later


class ProblemMeaning(TypedDict):
    """What a code in `errors` means."""

    code: Annotated[ProblemCode, Field(description="The code.")]
    meaning: Annotated[str, Field(description="What it means.")]


class WarningMeaning(TypedDict):
    """What a code in `warnings` means."""

    code: Annotated[WarningCode, Field(description="The code.")]
    meaning: Annotated[str, Field(description="What it means.")]


@described_later
class Codes(TypedDict):
    """All codes; they are part of the contract."""

    problems: Annotated[list[ProblemMeaning], Field(description="Codes of errors in problem documents.")]
    warnings: Annotated[list[WarningMeaning], Field(description="Codes of warnings beside answers.")]


async def codes() -> Codes:
    """List every code of errors and warnings with its meaning."""
    return all_codes()


def all_codes() -> Codes:
    """Return every code with its meaning."""
    return {
        "problems": [{"code": code, "meaning": meaning} for code, meaning in PROBLEMS.items()],
        "warnings": [{"code": code, "meaning": meaning} for code, meaning in WARNINGS.items()],
    }


def add_codes(app: FastAPI) -> None:
    """Give the application the list of codes."""
    app.router.add_api_route(
        "/v1/codes",
        codes,
        methods=["GET"],
        response_model=Codes,
        summary="Codes of errors and warnings",
        description=codes.__doc__ or "",
        operation_id="list_codes",
        tags=["service"],
    )
