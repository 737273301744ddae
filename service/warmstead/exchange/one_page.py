"""Answers to several questions about one house on one page, for the person who has to decide.

Every number comes out of an answer; a part is left out where its question was not asked. The page is Markdown: it reads well
as it is, prints as HTML, and can be mailed.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import Any

Answer = Mapping[str, Any]
Answers = Mapping[str, Answer]
"""Answers by the question's name in URLs."""

LARGEST = 5
"""So many rows of a list are shown: those below change no decision, and the page stays one."""


def one_page(answers: Answers) -> str:
    """Return the page as Markdown.

    Args:
        answers: answers about the same house by the question's name in URLs.

    Raises:
        ValueError: none of the answers has a place on the page.
    """
    shown = {question: answers[question] for question in PARTS if question in answers}
    if not shown:
        raise ValueError(f"none of these has a place on the page; it shows {', '.join(PARTS)}")
    lines = ["# The house on one page"]
    for question, answer in shown.items():
        lines += ["", *PARTS[question](answer, answers)]
    lines += ["", *_mind(shown.values()), "", *_check(shown.values())]
    return "\n".join(lines) + "\n"


def one_page_html(answers: Answers) -> str:
    """Return the page as HTML that needs nothing else, for a printer."""
    from importlib.resources import files

    from markdown_it import MarkdownIt

    style = files(__package__).joinpath("one_page.css").read_text(encoding="utf-8")
    body = MarkdownIt("commonmark").enable("table").render(one_page(answers))
    return (
        '<!doctype html>\n<html lang="en">\n<head><meta charset="utf-8"><title>The house on one page</title>'
        f"<style>{style}</style></head>\n<body>\n{body}</body>\n</html>\n"
    )


def _losses(answer: Answer, _: Answers) -> Iterator[str]:
    transmission = answer["transmission_w"]
    yield "## What the house loses on the coldest design day"
    yield ""
    yield (
        f"**{_kilowatts(answer['design_heat_load_w'])}**: {_kilowatts(transmission)} through walls, windows, floors and roof, "
        f"{_kilowatts(answer['ventilation_w'])} with the air"
        + (f", {_kilowatts(answer['reheat_w'])} to warm up again" if answer["reheat_w"] else "")
        + f"; {answer['specific_heat_load_w_m2']:.0f} W for each of {answer['floor_area_m2']:.0f} m² of floor."
    )
    yield ""
    yield from _table(
        ("The most goes through", "towards", ">W", ">share of the fabric's"),
        [
            (
                row["construction"],
                _words(row["boundary"]),
                _watts(row["heat_loss_w"]),
                f"{row.get('share', 0):.0%}",
            )
            for row in answer["by_construction"][:LARGEST]
        ],
    )


def _emitters(answer: Answer, _: Answers) -> Iterator[str]:
    short = [room for room in answer["rooms"] if room.get("coverage", 1.0) < 1.0]
    yield "## Which radiators are too small at these water temperatures"
    yield ""
    if not short:
        yield "None: every room is carried."
        return
    yield from _table(
        ("Room", ">needs, W", ">has, W", ">radiators needed, W at 50 K"),
        [
            (
                room["id"],
                _watts(room["required_w"]),
                _watts(room["available_w"]),
                _watts(room["standard_output_needed_w"]) if "standard_output_needed_w" in room else "",
            )
            for room in sorted(short, key=lambda room: room["coverage"])
        ],
    )
    if "lowest_flow_temperature_c" in answer:
        yield ""
        yield (
            f"As they are, the lowest flow temperature that carries every room is "
            f"{answer['lowest_flow_temperature_c']:.0f} °C; {answer['governing_room']} governs it."
        )


def _heat_pumps(answer: Answer, answers: Answers) -> Iterator[str]:
    chances = {
        row["id"]: f"{row['probability_suitable']:.0%}"
        for row in answers.get("uncertainty", {}).get("candidates", ())
    }
    yield "## Which heat pump"
    yield ""
    yield from _table(
        ("Unit", ">gives on the design day", ">of what is needed", ">chance that it suits", "verdict"),
        [
            (
                row["id"],
                _kilowatts(row["capacity_at_design_w"]),
                f"{row['coverage']:.0%}",
                chances.get(row["id"], ""),
                row["verdict"]
                + (
                    f"; the house would have to lose {_watts(row['reduction_needed_w'])} W less"
                    if row["verdict"] == "undersized"
                    else ""
                ),
            )
            for row in answer["candidates"]
        ],
    )
    yield ""
    yield f"Smallest that suits the house as it is: **{answer.get('smallest_suitable', 'none of these')}**."


def _improvements(answer: Answer, _: Answers) -> Iterator[str]:
    yield "## What would change that"
    yield ""
    if "shortfall" in answer:
        yield (
            f"No set of these measures reaches the goal; the nearest ({_set(answer['shortfall'])}) misses it by "
            f"{_watts(answer['shortfall']['shortfall_w'])} W."
        )
        return
    if "cheapest" not in answer:
        everything = answer["all_measures"]["design_heat_load_w"]
        yield f"All measures that can stand together would bring the load to {_kilowatts(everything)}."
        return
    sets = [answer["cheapest"], *answer["runners_up"]]
    yield from _table(
        ("Sets of measures that reach the goal", f">{_cost_word(answer)}", ">load then", ">saves"),
        [
            (
                _set(chosen),
                f"{chosen['cost']:.0f}" if answer["objective"] == "cost" else str(len(chosen["measures"])),
                _kilowatts(chosen["design_heat_load_w"]),
                f"{_watts(chosen['saving_w'])} W",
            )
            for chosen in sets
        ],
    )
    yield ""
    proved = "proved" if sets[0]["proved_optimal"] else "not proved"
    yield f"It is {proved} that the first is the least. Savings interact: they are computed together, not added up."


def _uncertainty(answer: Answer, answers: Answers) -> Iterator[str]:
    interval = answer["intervals"]["symmetric"]
    yield "## How sure this is"
    yield ""
    yield (
        f"The load lies between **{_kilowatts(interval['low_w'])} and {_kilowatts(interval['high_w'])}** with "
        f"{answer['probability']:.0%} probability, if the survey's doubts are as stated."
    )
    if "candidates" in answer and "heat-pump-sizing" not in answers:
        yield ""
        yield from _table(
            ("Unit", ">suits", ">too small", ">too large"),
            [
                (
                    row["id"],
                    *(
                        f"{row[f'probability_{name}']:.0%}"
                        for name in ("suitable", "undersized", "oversized")
                    ),
                )
                for row in answer["candidates"]
            ],
        )
    if "measure_next" in answer:
        yield ""
        yield f"Worth measuring first: **{answer['measure_next']['description']}**; {answer['measure_next']['reason']}."


def _comparison(answer: Answer, _: Answers) -> Iterator[str]:
    first, second = answer["first"], answer["second"]
    yield "## Why the other survey says something else"
    yield ""
    yield (
        f"{_kilowatts(first['design_heat_load_w'])} by {first['name']}, {_kilowatts(second['design_heat_load_w'])} by "
        f"{second['name']}. The {_watts(abs(answer['difference_w']))} W between them come from:"
    )
    yield ""
    for statement in answer["statements"][:LARGEST]:
        yield f"- {statement['in_words']}"
    rest = sum(statement["difference_w"] for statement in answer["statements"][LARGEST:])
    if len(answer["statements"]) > LARGEST:
        yield f"- {len(answer['statements']) - LARGEST} smaller causes, together {rest:+.0f} W."


def _measured(answer: Answer, _: Answers) -> Iterator[str]:
    coefficient = answer["heat_loss_coefficient_w_k"]
    yield "## What the meter says"
    yield ""
    yield (
        f"By {answer['days_used']} metered days the house loses **{coefficient['value']:.0f} W for each kelvin**, between "
        f"{coefficient['low']:.0f} and {coefficient['high']:.0f} with {answer['probability']:.0%} probability."
    )
    if "comparison" in answer:
        comparison = answer["comparison"]
        yield ""
        yield (
            f"The survey says {comparison['on_like_basis_w_k']:.0f} W/K on a like basis: {comparison['in_words']}. That is a "
            "statement of probability, not a verdict on the survey."
        )


def _mind(answers: Iterable[Answer]) -> Iterator[str]:
    """The cautions of all answers, each once."""
    cautions = {
        warning["code"]: warning["detail"]
        for answer in answers
        for warning in answer["warnings"]
        if warning["code"].startswith("caution.")
    }
    yield "## Before anyone begins work"
    yield ""
    if not cautions:
        yield "Local codes and licensed practice decide."
    for detail in cautions.values():
        yield f"- {detail[0].upper()}{detail[1:]}"


def _check(answers: Iterable[Answer]) -> Iterator[str]:
    """What the numbers stand on."""
    answers = list(answers)
    first = answers[0]["basis"]
    taken = {
        (warning["code"], warning["pointer"])
        for answer in answers
        for warning in answer["warnings"]
        if warning["code"].startswith(("default.", "memory."))
    }
    editions = ", ".join(f"{name}:{edition}" for name, edition in first["editions"].items())
    yield "## To check it"
    yield ""
    yield (
        f"Service {first['service_version']}, contract {first['contract']}, national annex {first['national_annex']}, tables "
        f"{first['tables_version']}; {editions}. {len(taken)} defaults and remembered values stand in the answers, each listed there; "
        "every step can be asked for with its clause."
    )


def _table(headings: Sequence[str], rows: Sequence[Sequence[str]]) -> Iterator[str]:
    """A table; columns whose heading begins with `>` hold numbers."""
    yield "| " + " | ".join(heading.removeprefix(">") for heading in headings) + " |"
    yield "| " + " | ".join("---:" if heading.startswith(">") else "---" for heading in headings) + " |"
    for row in rows:
        yield "| " + " | ".join(cell.replace("|", "\\|") for cell in row) + " |"


def _set(chosen: Answer) -> str:
    return ", ".join(chosen["measures"]) or "nothing at all"


def _cost_word(answer: Answer) -> str:
    return "cost" if answer["objective"] == "cost" else "measures"


def _words(name: str) -> str:
    return name.replace("_", " ")


def _kilowatts(watts: float) -> str:
    return f"{watts / 1000.0:.1f} kW"


def _watts(watts: float) -> str:
    return f"{round(watts) + 0:d}"


PARTS: dict[str, Callable[[Answer, Answers], Iterator[str]]] = {
    "house-loss": _losses,
    "heat-pump-sizing": _heat_pumps,
    "uncertainty": _uncertainty,
    "improvements": _improvements,
    "emitter-check": _emitters,
    "survey-comparison": _comparison,
    "measured-heat-loss": _measured,
}
"""The parts by question, in the order in which a householder asks."""
