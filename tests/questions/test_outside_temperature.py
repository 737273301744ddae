"""The outside design temperature of a place at the altitude of a house."""

from __future__ import annotations

from typing import Any

import pytest

import warmstead
from warmstead.tables import table


def ask(**request: Any) -> dict[str, Any]:
    answer: dict[str, Any] = warmstead.outside_temperature(request)
    return answer


def codes(answer: dict[str, Any]) -> list[str]:
    return [warning["code"] for warning in answer["warnings"]]


def refused(**request: Any) -> tuple[str, str, str]:
    with pytest.raises(warmstead.Refused) as caught:
        ask(**request)
    (problem,) = caught.value.problems
    return problem.pointer, problem.code, problem.detail


@pytest.mark.parametrize("row", table("outside-design-temperatures").rows, ids=lambda row: str(row["id"]))
def test_every_row_is_found_by_its_id(row: dict[str, Any]) -> None:
    answer = ask(place=row["id"])
    assert answer["row"] == row["id"]
    assert answer["external_temperature_c"] == row["external_temperature_c"]
    assert "default.altitude" in codes(answer)
    assert ("memory.table_row" in codes(answer)) == (row["provenance"] in ("from_memory", "derived"))


@pytest.mark.parametrize("altitude_m", [-100, 0, 68, 200, 1000, 2000])
def test_six_tenths_of_a_kelvin_for_each_hundred_metres(altitude_m: float) -> None:
    # −0.6 K for each 100 m (seen); Belfast −2.6 °C at 68 m (CIBSE Guide A 2006, from memory)
    answer = ask(place="Belfast", altitude_m=altitude_m, exceedance_percent=99.6)
    by_hand = -2.6 - 0.006 * (altitude_m - 68)
    assert answer["external_temperature_c"] == pytest.approx(by_hand, abs=1e-9)
    assert answer["altitude_correction_k"] == pytest.approx(by_hand + 2.6, abs=1e-9)
    assert "default.altitude" not in codes(answer)


@pytest.mark.parametrize("place", ["Belfast", "belfast", " BELFAST ", "belfast-cibse-a-99.6"])
def test_capitals_and_spaces_around_a_place_do_not_matter(place: str) -> None:
    assert ask(place=place)["row"] == "belfast-cibse-a-99.6"


def test_of_two_temperatures_the_coldest_is_taken_and_told() -> None:
    answer = ask(place="Belfast")
    assert answer["exceedance_percent"] == 99.6
    assert "default.exceedance" in codes(answer)
    assert "default.exceedance" not in codes(ask(place="Belfast", exceedance_percent=99.6))
    assert "default.exceedance" not in codes(ask(place="York"))
    assert ask(place="Belfast", exceedance_percent=99)["external_temperature_c"] == -1.2


def test_a_place_that_is_not_there_is_answered_with_the_nearest() -> None:
    pointer, code, detail = refused(place="Belfat")
    assert (pointer, code) == ("/place", "not_found")
    assert "did you mean Belfast?" in detail


def test_a_share_that_is_not_there_is_answered_with_those_that_are() -> None:
    pointer, code, detail = refused(place="Belfast", exceedance_percent=98)
    assert (pointer, code) == ("/exceedance_percent", "not_found")
    assert "99.6, 99 %" in detail
    assert refused(place="united-kingdom-nhbc", exceedance_percent=98)[:2] == (
        "/exceedance_percent",
        "not_found",
    )


def test_a_whole_country_has_no_altitude() -> None:
    assert refused(place="united-kingdom-nhbc", altitude_m=100)[:2] == ("/altitude_m", "not_covered")


def test_workings_end_in_the_temperature() -> None:
    answer = warmstead.outside_temperature({"place": "York", "altitude_m": 115}, workings=True)
    assert [step["symbol"] for step in answer["workings"]] == ["θ_e,0", "Δθ", "θ_e"]
    assert answer["workings"][-1]["value"] == answer["external_temperature_c"]
    short = warmstead.outside_temperature({"place": "united-kingdom-nhbc"}, workings=True)["workings"]
    assert [step["symbol"] for step in short] == ["θ_e,0", "θ_e"]
