"""References between parts of a document: look-ups with a helpful refusal, and unique identifiers."""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches

from warmstead.building.findings import Findings

MOST_GUESSES = 20
"""Guesses that one request is worth: comparing names costs far more than finding out that they are unknown."""


def nearest(name: str, known: Iterable[str]) -> str:
    """Return a sentence that names the nearest known name, or some of them."""
    names = sorted(known)
    close = get_close_matches(name, names, n=1, cutoff=0.6)
    if close:
        return f"did you mean {close[0]!r}?"
    if not names:
        return "there are none"
    listed = ", ".join(names[:12])
    return f"known: {listed}{', …' if len(names) > 12 else ''}"


def refuse_unknown(findings: Findings, pointer: str, what: str, name: str, known: Iterable[str]) -> None:
    """Note that a reference leads nowhere, with the nearest name for the first of them."""
    guess = f"; {nearest(name, known)}" if len(findings.problems) < MOST_GUESSES else ""
    findings.refuse("not_found", pointer, f"no {what} {name!r}{guess}")


def refuse_repeated(findings: Findings, pointers_and_ids: Iterable[tuple[str, str]]) -> None:
    """Note every identifier that is used a second time in its list."""
    seen: set[str] = set()
    for pointer, identifier in pointers_and_ids:
        if identifier in seen:
            findings.refuse("duplicate_id", pointer, f"{identifier!r} is used already; ids are unique here")
        seen.add(identifier)
