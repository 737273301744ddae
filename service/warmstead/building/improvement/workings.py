"""The workings of a choice of measures: loads with and without, in the order a person checks by hand."""

from __future__ import annotations

from collections.abc import Sequence

from warmstead.building.improvement.statements import MeasureStatement, SetStatement
from warmstead.building.improvement.study import Study
from warmstead.building.statements import Step
from warmstead.building.steps import Steps

CLAUSE = "EN 12831:2003, 8.2"


def improvement_steps(
    study: Study, measures: Sequence[MeasureStatement], cheapest: SetStatement | None
) -> list[Step]:
    """Return the loads that the savings are the differences of.

    Each load is that of a whole house, and can be asked of house-loss with the survey changed by hand.
    """
    house = Steps("house")
    now = study.loads_now.house_w
    house.add("design heat load now", "Φ_0", now, "W", "Φ_T + Φ_V + Φ_RH of the house as it is", CLAUSE)
    steps = house.steps
    for index, statement in enumerate(measures):
        steps += _measure(study, index, statement)
    if cheapest is not None:
        chosen = Steps("cheapest")
        load = cheapest["design_heat_load_w"]
        chosen.add("design heat load with the set", "Φ_S", load, "W", _with(cheapest["measures"]), CLAUSE)
        steps += chosen.steps
    return steps


def _measure(study: Study, index: int, statement: MeasureStatement) -> list[Step]:
    steps = Steps(statement["id"])
    everything = study.together([index])
    alone = study.loads(frozenset({index})).house_w
    before, after = study.loads(everything - {index}).house_w, study.loads(everything).house_w
    for row in statement["surfaces"]:
        steps.add(
            f"{row['element']}: U-value afterwards",
            "U",
            row["u_value_after_w_m2k"],
            "W/(m²·K)",
            f"the construction anew; {row['u_value_before_w_m2k']:.6g} now",
            "ISO 6946:2017, 6.7",
        )
    steps.add("design heat load with it alone", "Φ_m", alone, "W", _with([statement["id"]]), CLAUSE)
    steps.add("saving alone", "ΔΦ", statement["saving_alone_w"], "W", "Φ_0 − Φ_m", CLAUSE)
    steps.add("design heat load with the others", "Φ_o", before, "W", _with(statement["others"]), CLAUSE)
    steps.add(
        "design heat load with the others and it", "Φ_om", after, "W", "that house with it as well", CLAUSE
    )
    steps.add(
        "saving after the others", "ΔΦ_o", statement["saving_after_others_w"], "W", "Φ_o − Φ_om", CLAUSE
    )
    return steps.steps


def _with(measures: Sequence[str]) -> str:
    return f"Φ_T + Φ_V + Φ_RH of the house with {', '.join(measures) or 'none'}"
