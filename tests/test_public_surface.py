"""What `import warmstead` offers."""

from __future__ import annotations

import subprocess
import sys

import pytest

import warmstead
from warmstead.demo import requests
from warmstead.questions.registry import QUESTIONS


def test_the_package_offers_each_question_its_refusal_and_its_version() -> None:
    questions = [question.python_name for question in QUESTIONS.values()]
    assert sorted(warmstead.__all__) == sorted(["Refused", "__version__", *questions])


@pytest.mark.parametrize("name", QUESTIONS)
def test_a_function_takes_values_text_and_models_alike(name: str) -> None:
    import orjson

    ask = getattr(warmstead, QUESTIONS[name].python_name)
    values = requests()[name]
    model = QUESTIONS[name].request.model_validate(values)
    assert ask(values) == ask(orjson.dumps(values)) == ask(model)


def test_a_refusal_carries_every_problem() -> None:
    with pytest.raises(warmstead.Refused) as refused:
        warmstead.u_value({"construction": {"kind": "declared"}, "colour": 1})
    assert [problem.pointer for problem in refused.value.problems] == [
        "/construction/u_value_w_m2k",
        "/construction/source",
        "/colour",
    ]


def test_an_unknown_name_is_an_attribute_error() -> None:
    with pytest.raises(AttributeError, match="no attribute 'w_value'"):
        _ = warmstead.w_value


def test_serving_imports_no_numerical_library() -> None:
    code = "import sys, warmstead.api.app; print([m for m in ('scipy', 'numpy', 'rich', 'httpx') if m in sys.modules])"
    printed = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert printed.strip() == "[]"
