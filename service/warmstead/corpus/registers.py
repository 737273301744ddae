"""The two registers beside the cases: what each flag means, and what each source is."""

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

from warmstead.corpus.case import Locator, Slug, Text


class _Register(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


class Erratum(_Register):
    """A slip of a source: what it prints, what is used in its place, and how that was established."""

    locator: Locator
    printed: Text
    used: Text
    established: Text


class Source(_Register):
    """A source of figures."""

    title: Text
    publisher: Text
    author: Text | None = None
    edition: Text | None = None
    year: Annotated[int, Field(ge=1900, le=2100)] | None = None
    rank: Literal["standard", "guidance", "handbook", "textbook", "lecture", "paper", "page", "contract"]
    note: Text | None = None
    errata: tuple[Erratum, ...] = ()


class Sources(_Register):
    """The file `sources.json`."""

    schema_version: Literal[1]
    sources: dict[Slug, Source]


class Flags(_Register):
    """The file `flags.json`."""

    schema_version: Literal[1]
    flags: dict[Annotated[str, Field(pattern=r"^[a-z0-9_]+$")], Text]
