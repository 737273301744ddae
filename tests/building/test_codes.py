"""The published codes: each is explained, and each is used somewhere."""

from __future__ import annotations

from pathlib import Path
from typing import get_args

import warmstead
from warmstead.building.cautions import TEXTS
from warmstead.building.codes import PROBLEMS, WARNINGS
from warmstead.building.findings import ProblemCode, WarningCode

PACKAGE = Path(warmstead.__file__).parent
LISTS = {"findings.py", "codes.py"}


def source() -> str:
    return "\n".join(
        path.read_text(encoding="utf-8") for path in PACKAGE.rglob("*.py") if path.name not in LISTS
    )


def test_every_code_is_explained() -> None:
    assert set(PROBLEMS) == set(get_args(ProblemCode))
    assert set(WARNINGS) == set(get_args(WarningCode))


def test_every_code_is_used() -> None:
    code = (
        source()
        + (PACKAGE / "building" / "findings.py").read_text(encoding="utf-8").partition("class Warning(")[2]
    )
    unused = [name for name in (*PROBLEMS, *WARNINGS) if f'"{name}"' not in code]
    assert unused == []


def test_every_caution_defers_or_warns_in_words() -> None:
    assert all(len(text) > 40 and text.endswith(".") for text in TEXTS.values())
