"""Heat loss from meter readings: energy into heat, what is set aside, what is refused and with which advice, the comparison."""

from __future__ import annotations

import json
import re
from datetime import date, timedelta
from typing import Any

import numpy as np
import pytest
from pydantic import ValidationError

import warmstead
from warmstead.building.measured import estimate as measured
from warmstead.building.measured import like_basis
from warmstead.demo import requests
from warmstead.questions import measured_heat_loss
from warmstead.questions.measured_heat_loss import MeasuredHeatLossRequest, in_words
from warmstead.standards import change_point
from warmstead.tables import table

FIRST = date(2023, 1, 1)
QUIET = {"regression": "robust", "accepted_half_width": 0.25, "base_use": {"kind": "from_summer"}}


def heat(outside: float) -> float:
    """The made-up house: 8 kWh a day, and 200 W/K below 16 °C."""
    return 8.0 + 4.8 * max(0.0, 16.0 - outside)


def readings(outside: list[float], days: int = 1, over: float = 1.0, **more: Any) -> list[dict[str, Any]]:
    """Return exact readings of the made-up house, its heat over `over`."""
    return [
        {
            "start": (FIRST + timedelta(days=days * index)).isoformat(),
            "days": days,
            "energy_kwh": days * heat(temperature) / over,
            "external_temperature_c": temperature,
        }
        | more
        for index, temperature in enumerate(outside)
    ]


SPREAD = [float(value) for value in np.tile(np.linspace(-4.0, 24.0, 15), 4)]
YEAR = readings(SPREAD)


def noisy(count: int, low: float, high: float, deviation: float, seed: int = 2) -> list[dict[str, Any]]:
    random = np.random.default_rng(seed)
    rows = readings([round(float(value), 3) for value in random.uniform(low, high, count)])
    for row in rows:
        row["energy_kwh"] = max(0.0, row["energy_kwh"] + deviation * random.normal())
    return rows


def ask(rows: list[dict[str, Any]], **more: Any) -> dict[str, Any]:
    request = {"energy": {"kind": "heat"}, "readings": rows} | QUIET | more
    answer: dict[str, Any] = warmstead.measured_heat_loss({k: v for k, v in request.items() if v is not None})
    return answer


def refused(rows: list[dict[str, Any]], **more: Any) -> list[tuple[str, str]]:
    with pytest.raises(warmstead.Refused) as caught:
        ask(rows, **more)
    return [(problem.pointer, problem.code) for problem in caught.value.problems]


def advice(rows: list[dict[str, Any]], **more: Any) -> str:
    with pytest.raises(warmstead.Refused) as caught:
        ask(rows, **more)
    (problem,) = caught.value.problems
    assert problem.code == "insufficient_data"
    return problem.detail


def codes(answer: dict[str, Any]) -> dict[str, str]:
    return {warning["code"]: warning["pointer"] for warning in answer["warnings"]}


def coefficient(answer: dict[str, Any]) -> float:
    value: float = answer["heat_loss_coefficient_w_k"]["value"]
    return value


# --- From energy to heat ---


@pytest.mark.parametrize(
    ("energy", "over"),
    [
        ({"kind": "heat"}, 1.0),
        ({"kind": "electricity"}, 1.0),
        ({"kind": "electricity", "efficiency": 0.9}, 0.9),
        ({"kind": "other", "efficiency": 0.7}, 0.7),
        ({"kind": "heat_pump", "coefficient_of_performance": 3.0}, 3.0),
        # By hand, with net over gross 0.9: 0.95 on net is 0.855 on gross; 0.855 on gross is 0.95 on net.
        ({"kind": "gas", "efficiency": 0.85}, 0.85),
        (
            {
                "kind": "gas",
                "efficiency": 0.95,
                "calorific_value": "gross",
                "efficiency_calorific_value": "net",
            },
            0.855,
        ),
        (
            {
                "kind": "gas",
                "efficiency": 0.855,
                "calorific_value": "net",
                "efficiency_calorific_value": "gross",
            },
            0.95,
        ),
        ({"kind": "gas", "efficiency": 1.05, "calorific_value": "net"}, 1.05),
        # 0.92 for propane.
        (
            {
                "kind": "liquid_gas",
                "efficiency": 1.0,
                "calorific_value": "gross",
                "efficiency_calorific_value": "net",
            },
            0.92,
        ),
    ],
)
def test_energy_becomes_heat(energy: dict[str, Any], over: float) -> None:
    answer = ask(readings(SPREAD, over=over), energy=energy)
    assert coefficient(answer) == pytest.approx(200.0, abs=1e-4)
    assert answer["base_temperature_c"]["value"] == pytest.approx(16.0, abs=1e-5)
    # Base use is said as the meter counts it.
    assert answer["base_use_kwh_per_day"]["value"] == pytest.approx(8.0 / over, abs=1e-4)


def test_a_heat_pump_by_a_table_of_outside_temperatures() -> None:
    # By hand: 2 at −10 °C, 4 at 10 °C, 4 from there on; between them a straight line, such as 3 at 0 °C.
    table_rows = [
        {"external_temperature_c": -10, "coefficient_of_performance": 2},
        {"external_temperature_c": 10, "coefficient_of_performance": 4},
        {"external_temperature_c": 30, "coefficient_of_performance": 4},
    ]
    # 2 kWh of electricity each day besides, whatever the weather.
    rows = [dict(row) for row in YEAR]
    for row in rows:
        outside = row["external_temperature_c"]
        row["energy_kwh"] = (row["energy_kwh"] - heat(30.0)) / min(4.0, 3.0 + outside / 10.0) + 2.0
    energy = {"kind": "heat_pump", "performance": table_rows}
    answer = ask(rows, energy=energy)
    assert coefficient(answer) == pytest.approx(200.0, abs=1e-4)
    assert answer["base_use_kwh_per_day"]["value"] == pytest.approx(2.0, abs=1e-5)
    given = ask(rows, energy=energy, base_use={"kind": "given", "energy_kwh_per_day": 2.0})
    assert coefficient(given) == pytest.approx(200.0, abs=1e-4)
    short = {"kind": "heat_pump", "performance": table_rows[:2]}
    assert refused(rows, energy=short) == [("/energy/performance", "not_covered")]


def test_calorific_values_that_are_not_named_are_told() -> None:
    told = [
        warning["pointer"] for warning in ask(YEAR, energy={"kind": "gas", "efficiency": 0.8})["warnings"]
    ]
    assert "/energy/calorific_value" in told
    assert "/energy/efficiency_calorific_value" in told
    oil = {"kind": "oil", "efficiency": 0.9, "calorific_value": "gross", "efficiency_calorific_value": "net"}
    assert "memory.table_row" in codes(ask(YEAR, energy=oil))
    gas = oil | {"kind": "gas"}
    assert "memory.table_row" not in codes(ask(YEAR, energy=gas))


def test_an_efficiency_s_uncertainty_is_the_coefficient_s() -> None:
    # By hand: exact readings leave 200 W/K · 0.03/0.85 = 7.06; normal, 1.96 of it each side.
    energy = {"kind": "other", "efficiency": 0.85, "efficiency_standard_uncertainty": 0.03}
    answer = ask(readings(SPREAD, over=0.85), energy=energy)
    found = answer["heat_loss_coefficient_w_k"]
    assert found["standard_uncertainty"] == pytest.approx(7.0588, abs=0.0005)
    assert found["high"] - found["value"] == pytest.approx(1.95996 * 7.0588, abs=0.001)
    assert "assumption.efficiency_exact" not in codes(answer)
    exact = ask(readings(SPREAD, over=0.85), energy={"kind": "other", "efficiency": 0.85})
    assert codes(exact)["assumption.efficiency_exact"] == "/energy/efficiency_standard_uncertainty"
    pump = {"kind": "heat_pump", "coefficient_of_performance": 3, "relative_standard_uncertainty": 0.1}
    answer = ask(readings(SPREAD, over=3.0), energy=pump)
    assert answer["fit"]["efficiency_uncertainty_w_k"] == pytest.approx(20.0, abs=1e-4)


@pytest.mark.parametrize(
    ("energy", "at", "code"),
    [
        ({"kind": "gas", "efficiency": 1.05}, "/energy/efficiency", "contradiction"),
        (
            {"kind": "gas", "efficiency": 1.15, "calorific_value": "net"},
            "/energy/efficiency",
            "contradiction",
        ),
        ({"kind": "other", "efficiency": 1.05}, "/energy/efficiency", "contradiction"),
        ({"kind": "heat_pump"}, "/energy/coefficient_of_performance", "incomplete"),
        (
            {
                "kind": "heat_pump",
                "coefficient_of_performance": 3,
                "performance": [
                    {"external_temperature_c": -30, "coefficient_of_performance": 2},
                    {"external_temperature_c": 30, "coefficient_of_performance": 4},
                ],
            },
            "/energy/coefficient_of_performance",
            "ambiguous",
        ),
        (
            {
                "kind": "heat_pump",
                "performance": [
                    {"external_temperature_c": -30, "coefficient_of_performance": 2},
                    {"external_temperature_c": 30, "coefficient_of_performance": 4},
                    {"external_temperature_c": 30, "coefficient_of_performance": 4},
                ],
            },
            "/energy/performance/2/external_temperature_c",
            "contradiction",
        ),
    ],
)
def test_energy_that_cannot_be(energy: dict[str, Any], at: str, code: str) -> None:
    assert refused(YEAR, energy=energy) == [(at, code)]


# --- Base use ---


def test_base_use_that_is_given_is_taken_off_as_the_meter_counts_it() -> None:
    winter = readings([float(value) for value in np.linspace(-4.0, 12.0, 40)], over=0.8)
    given = {"kind": "given", "energy_kwh_per_day": 10}
    answer = ask(winter, energy={"kind": "other", "efficiency": 0.8}, base_use=given)
    assert coefficient(answer) == pytest.approx(200.0, abs=1e-4)
    assert answer["base_temperature_c"]["value"] == pytest.approx(16.0, abs=1e-4)
    assert "base_use_kwh_per_day" not in answer


def test_a_line_leaves_base_use_within() -> None:
    winter = readings([float(value) for value in np.linspace(-4.0, 12.0, 40)])
    answer = ask(winter, base_use={"kind": "not_separated"})
    assert coefficient(answer) == pytest.approx(200.0, abs=1e-4)
    assert answer["model"] == "straight_line"
    assert {"base_temperature_c", "heated_days", "base_use_kwh_per_day"} & set(answer) == set()
    (told,) = [w for w in answer["warnings"] if w["code"] == "assumption.heating_season_only"]
    assert "12 °C" in told["detail"]


def test_hot_water_that_was_metered_is_taken_off() -> None:
    rows = readings(SPREAD, hot_water_kwh=3.0)
    for index, row in enumerate(rows):
        row["hot_water_kwh"] = 1.0 + index % 5
        row["energy_kwh"] += row["hot_water_kwh"]
    answer = ask(rows)
    assert coefficient(answer) == pytest.approx(200.0, abs=1e-4)
    assert answer["base_use_kwh_per_day"]["value"] == pytest.approx(8.0, abs=1e-4)
    rows[3]["hot_water_kwh"] = rows[3]["energy_kwh"] + 1.0
    assert refused(rows) == [("/readings/3/hot_water_kwh", "contradiction")]


def test_away_is_set_aside_and_told() -> None:
    rows = [dict(row) for row in YEAR]
    rows[4] |= {"energy_kwh": 0.0, "away": True}
    rows[5] |= {"away": False}
    answer = ask(rows)
    assert answer["set_aside"] == [{"start": "2023-01-05", "reason": "away"}]
    assert answer["readings_used"] == len(rows) - 1
    assert coefficient(answer) == pytest.approx(200.0, abs=1e-4)


def test_an_empty_house_that_nobody_flagged_is_outlying() -> None:
    rows = noisy(200, -4.0, 24.0, 2.0)
    cold = next(index for index, row in enumerate(rows) if row["external_temperature_c"] < 0.0)
    rows[cold]["energy_kwh"] = 2.0
    answer = ask(rows)
    assert rows[cold]["start"] in answer["outlying"]
    assert codes(answer)["unusual.reading"] == "/readings"
    low, high = (answer["heat_loss_coefficient_w_k"][end] for end in ("low", "high"))
    assert low < 200.0 < high


def test_gains_are_those_between_inside_and_base_temperature() -> None:
    # By hand: 200 · (20 − 16).
    assert ask(YEAR, internal_temperature_c=20)["implied_gains_w"] == pytest.approx(800.0, abs=0.01)


# --- Weather ---


def test_weeks_by_daily_temperatures_are_exact_and_by_their_mean_are_told() -> None:
    random = np.random.default_rng(4)
    weeks = [
        np.round(12.0 - 10.0 * np.cos(week / 8.3) + random.normal(0, 3, 7), 1).tolist() for week in range(52)
    ]
    rows = [
        {
            "start": (FIRST + timedelta(days=7 * week)).isoformat(),
            "days": 7,
            "energy_kwh": sum(heat(day) for day in days),
            "external_temperatures_c": days,
        }
        for week, days in enumerate(weeks)
    ]
    answer = ask(rows)
    assert coefficient(answer) == pytest.approx(200.0, abs=1e-3)
    assert "assumption.mean_temperature" not in codes(answer)
    for row in rows:
        row["external_temperature_c"] = sum(row["external_temperatures_c"]) / 7
        del row["external_temperatures_c"]
    answer = ask(rows)
    assert "assumption.mean_temperature" in codes(answer)
    assert coefficient(answer) == pytest.approx(200.0, rel=0.08)


def test_months_by_their_mean_take_the_formula() -> None:
    # Heat made by the formula itself, with the k of 0.71 that a course text prints: 30 days of 8 + 4.8 · x/(1 − exp(−0.71 x)).
    rows = []
    for month, outside in enumerate([2.0, 3.0, 6.0, 9.0, 13.0, 17.0, 21.0, 20.0, 15.0, 11.0, 7.0, 4.0]):
        below = 16.0 - outside
        degree_days = below / (1.0 - np.exp(-0.71 * below))
        rows.append(
            {
                "start": (FIRST + timedelta(days=30 * month)).isoformat(),
                "days": 30,
                "energy_kwh": 30.0 * (8.0 + 4.8 * float(degree_days)),
                "external_temperature_c": outside,
            }
        )
    answer = ask(rows)
    assert coefficient(answer) == pytest.approx(200.0, abs=1e-3)
    assert answer["base_temperature_c"]["value"] == pytest.approx(16.0, abs=1e-4)
    assert codes(answer)["assumption.degree_day_formula"] == "/readings"


def test_sun_that_shows_nowhere_is_told() -> None:
    random = np.random.default_rng(12)
    rows = noisy(300, -4.0, 24.0, 2.0)
    for row in rows:
        row["solar_irradiation_kwh_m2"] = round(float(random.uniform(0.0, 4.0)), 3)
        row["energy_kwh"] += 1.5 * row["solar_irradiation_kwh_m2"] * (row["external_temperature_c"] < 12.0)
    answer = ask(rows)
    assert answer["solar_aperture_m2"]["value"] == pytest.approx(0.0, abs=1e-6)
    assert "unusual.solar_aperture" in codes(answer)


# --- Refused ---


@pytest.mark.parametrize(
    ("change", "problems"),
    [
        ({"start": "2023-02-30"}, [("/readings/2/start", "invalid_text")]),
        ({"start": "0000-01-01"}, [("/readings/2/start", "invalid_text")]),
        ({"start": "2023-01-01"}, [("/readings/2/start", "contradiction")]),
        ({"days": 2}, [("/readings/3/start", "contradiction")]),
        ({"external_temperatures_c": [3.0]}, [("/readings/2/external_temperatures_c", "ambiguous")]),
        ({"external_temperature_c": None}, [("/readings/2/external_temperature_c", "incomplete")]),
        (
            {"external_temperature_c": None, "external_temperatures_c": [3.0, 4.0]},
            [("/readings/2/external_temperatures_c", "contradiction")],
        ),
    ],
)
def test_readings_that_contradict(change: dict[str, Any], problems: list[tuple[str, str]]) -> None:
    rows = [dict(row) for row in YEAR[:20]]
    rows[2] = {name: value for name, value in (rows[2] | change).items() if value is not None}
    assert refused(rows) == problems


def test_the_last_day_of_the_calendar_is_no_fault_of_the_service() -> None:
    rows = [dict(row) for row in YEAR[:10]]
    rows[9]["start"] = "9999-12-31"
    assert refused(rows) == [("/readings/9/start", "invalid_text")]


def test_everything_that_contradicts_is_said_at_once() -> None:
    rows = [dict(row) for row in YEAR[:20]]
    rows[2]["start"] = "2023-01-01"
    rows[7]["solar_irradiation_kwh_m2"] = 2.0
    found = refused(
        rows,
        energy={"kind": "heat_pump"},
        like_basis={"mean_air_changes": 0.5},
        solar_aperture_m2=None,
    )
    assert ("/house", "incomplete") in found
    assert ("/readings/2/start", "contradiction") in found
    assert ("/readings/0/solar_irradiation_kwh_m2", "incomplete") in found
    assert ("/energy/coefficient_of_performance", "incomplete") in found


def test_an_aperture_needs_the_sun() -> None:
    assert refused(YEAR, solar_aperture_m2=3.0) == [("/readings/0/solar_irradiation_kwh_m2", "incomplete")]


def test_more_days_than_a_lifetime_are_refused() -> None:
    rows = [
        {
            "start": (FIRST + timedelta(days=100 * index)).isoformat(),
            "days": 100,
            "energy_kwh": 1.0,
            "external_temperature_c": 5.0,
        }
        for index in range(201)
    ]
    assert refused(rows) == [("/readings", "out_of_range")]


def test_few_readings_say_how_many_are_missing() -> None:
    assert advice(YEAR[:7]) == "7 readings can be used and at least 10 are needed: 3 more"
    away = [row | {"away": True} for row in YEAR[:12]]
    assert advice(away).startswith("0 readings can be used")


def test_a_summer_without_winter_says_what_is_missing() -> None:
    warm = noisy(60, 15.5, 25.0, 0.2) + [
        {
            "start": "2023-04-01",
            "days": 1,
            "energy_kwh": heat(outside),
            "external_temperature_c": outside,
        }
        for outside in [10.0]
    ]
    assert re.search(r"readings show heating and at least 5 are needed: \d more", advice(warm))


def test_a_winter_without_summer_says_what_is_missing() -> None:
    said = advice(noisy(120, -4.0, 12.0, 2.0))
    assert "at least 14 days more that are warm enough not to heat" in said
    # The same winter is enough for a line, and for a base use that is known.
    for base_use in ({"kind": "not_separated"}, {"kind": "given", "energy_kwh_per_day": 8}):
        answer = ask(noisy(120, -4.0, 12.0, 2.0), base_use=base_use)
        assert (
            answer["heat_loss_coefficient_w_k"]["low"] < 200.0 < answer["heat_loss_coefficient_w_k"]["high"]
        )


def test_heat_that_does_not_rise_in_the_cold_is_refused() -> None:
    rows = readings(SPREAD)
    for row in rows:
        row["energy_kwh"] = 20.0 + row["external_temperature_c"]
    assert "does not rise" in advice(rows)
    assert "does not rise" in advice(rows, base_use={"kind": "not_separated"})


def test_a_base_use_that_warm_days_contradict_is_told() -> None:
    # By hand: the made-up house uses 8 kWh a day beside heating, whatever is given.
    (told,) = [
        warning
        for warning in ask(YEAR, base_use={"kind": "given", "energy_kwh_per_day": 3})["warnings"]
        if warning["code"] == "unusual.base_use"
    ]
    assert "5.0 kWh of heat a day more" in told["detail"]
    given = {"kind": "given", "energy_kwh_per_day": 8}
    assert "unusual.base_use" not in codes(ask(YEAR, base_use=given))


def test_a_base_use_beyond_all_readings_is_refused() -> None:
    said = refused(YEAR, base_use={"kind": "given", "energy_kwh_per_day": 90})
    assert [code for _, code in said] == ["insufficient_data"]


def test_a_slope_that_hangs_on_one_reading_is_refused() -> None:
    rows = readings([10.0] * 30 + [-5.0])
    assert "hangs on a single reading" in advice(rows, base_use={"kind": "not_separated"})


def test_the_days_that_are_said_to_help_do_help() -> None:
    # Independently of the advice: that many more days of such weather are added, and the question asked again.
    rows = noisy(40, 3.0, 14.0, 9.0, seed=5)
    line = {"base_use": {"kind": "not_separated"}, "accepted_half_width": 0.15}
    said = advice(rows, **line)
    like = re.search(r"about (\d+) days more like those sent", said)
    cold = re.search(r"(\d+) days more of about (-?\d+) °C", said)
    assert like is not None
    assert cold is not None
    assert int(cold[1]) < int(like[1])

    def half_width(extra: int, low: float, high: float) -> float:
        widths = []
        for seed in range(20):
            more = noisy(len(rows) + extra, low, high, 9.0, seed=100 + seed)
            for old, new in zip(rows, more, strict=False):
                new |= {name: old[name] for name in ("energy_kwh", "external_temperature_c")}
            found = ask(more, base_use=line["base_use"], accepted_half_width=10)["heat_loss_coefficient_w_k"]
            widths.append((found["high"] - found["low"]) / 2.0 / found["value"])
        return float(np.median(widths))

    assert half_width(int(like[1]), 3.0, 14.0) == pytest.approx(0.15, rel=0.25)
    assert half_width(int(cold[1]), float(cold[2]) - 0.01, float(cold[2]) + 0.01) == pytest.approx(
        0.15, rel=0.25
    )


def test_a_wider_interval_can_be_accepted() -> None:
    rows = noisy(40, 3.0, 14.0, 9.0, seed=5)
    line = {"base_use": {"kind": "not_separated"}}
    codes = [code for _, code in refused(rows, accepted_half_width=0.05, **line)]
    assert "insufficient_data" in codes
    assert ask(rows, accepted_half_width=5, **line)["readings_used"] == 40


# --- The comparison ---


HOUSE = {
    "dimensions": "internal",
    "reheat_w_m2": 0,
    "conditions": {"external_temperature_c": -3, "national_annex": "GB"},
    "constructions": {"wall": {"kind": "declared", "u_value_w_m2k": 2.0, "source": "made up"}},
    "ventilation": {"method": "air_changes", "air_heat_capacity_wh_m3k": 0.33},
    "thermal_bridges": {"surcharge_w_m2k": 0},
    "rooms": [
        {
            "id": "a",
            "design_temperature_c": 20,
            "floor_area_m2": 40,
            "height_m": 2.5,
            "ventilation": {"air_changes": 1.0},
            "elements": [{"id": "w", "construction": "wall", "area_m2": 100, "boundary": {"to": "outside"}}],
        }
    ],
}


def test_the_comparison_is_a_probability() -> None:
    # By hand: on a like basis 2 · 100 + 0.33 · 0.5 · 100 = 216.5; the readings' 200 ± 20 (COP known to 10 %) and the survey's 5 %:
    # √(20² + 10.825²) = 22.742; 16.5/22.742 = 0.72554 standard deviations: 0.7659 of a normal distribution.
    pump = {"kind": "heat_pump", "coefficient_of_performance": 3, "relative_standard_uncertainty": 0.1}
    options = {"mean_air_changes": 0.5, "relative_standard_uncertainty": 0.05}
    answer = ask(readings(SPREAD, over=3.0), energy=pump, house=HOUSE, like_basis=options)
    comparison = answer["comparison"]
    assert comparison["survey_coefficient_w_k"] == pytest.approx(233.0)
    assert comparison["on_like_basis_w_k"] == pytest.approx(216.5)
    assert comparison["difference_w_k"] == pytest.approx(16.5, abs=1e-4)
    assert comparison["probability_survey_higher"] == pytest.approx(0.7659, abs=0.00005)
    assert comparison["in_words"] == (
        "the meter readings make it 77 % likely that the true coefficient lies below the survey's on a like basis"
    )


@pytest.mark.parametrize(
    ("probability", "said"),
    [
        (1.0, "more than 99 % likely that the true coefficient lies below"),
        (0.9, "90 % likely that the true coefficient lies below"),
        (0.55, "do not say whether"),
        (0.45, "do not say whether"),
        (0.2, "80 % likely that the true coefficient lies above"),
        (0.001, "more than 99 % likely that the true coefficient lies above"),
    ],
)
def test_words_follow_the_probability(probability: float, said: str) -> None:
    assert said in in_words(probability)


def test_a_refused_house_refuses_the_question() -> None:
    broken = json.loads(json.dumps(HOUSE))
    broken["rooms"][0]["elements"][0]["construction"] = "roof"
    assert refused(YEAR, house=broken) == [("/house/rooms/0/elements/0/construction", "not_found")]


# --- The whole ---


def test_defaults_are_told() -> None:
    rows = [{name: value for name, value in row.items() if name != "days"} for row in YEAR]
    told = codes(
        ask(rows, energy={"kind": "electricity"}, regression=None, base_use=None, accepted_half_width=None)
    )
    for code in (
        "default.reading_days",
        "default.efficiency",
        "default.regression",
        "default.base_use",
        "default.accepted_half_width",
        "assumption.constant_base_use",
        "assumption.constant_inside_temperature",
        "assumption.all_heat_metered",
        "assumption.solar_not_separated",
    ):
        assert code in told
    assert [code for code in codes(ask(YEAR)) if code.startswith("default.")] == []


def test_workings_restate_the_answer() -> None:
    asked = requests()["measured-heat-loss"]
    answer = warmstead.measured_heat_loss(asked, workings=True)
    steps = {step["symbol"]: step["value"] for step in answer["workings"]}
    found = answer["heat_loss_coefficient_w_k"]
    assert steps["H"] == found["value"] == pytest.approx(steps["h"] / 0.024)
    assert steps["u"] == pytest.approx((steps["u_1"] ** 2 + steps["u_2"] ** 2) ** 0.5)
    assert steps["H − t·u"] == pytest.approx(steps["H"] - steps["t"] * steps["u"])
    assert steps["P"] == answer["comparison"]["probability_survey_higher"]
    assert steps["Δ"] == pytest.approx(steps["Σ H_l"] - steps["H"])


def test_the_same_question_has_the_same_answer_to_the_byte() -> None:
    asked = requests()["measured-heat-loss"]
    first, second = (json.dumps(warmstead.measured_heat_loss(asked, workings=True)) for _ in range(2))
    assert first == second


@pytest.mark.parametrize(
    "broken",
    [
        {"readings": []},
        {"readings": [YEAR[0] | {"start": "1 January"}]},
        {"readings": [YEAR[0] | {"days": 0}]},
        {"readings": [YEAR[0] | {"days": 1.5}]},
        {"readings": [YEAR[0] | {"energy_kwh": -1}]},
        {"readings": [YEAR[0] | {"away": 1}]},
        {"energy": {"kind": "peat"}},
        {"energy": {"kind": "gas"}},
        {"accepted_half_width": 0},
    ],
)
def test_bounds_stand_in_the_schema(broken: dict[str, Any]) -> None:
    whole = {"energy": {"kind": "heat"}, "readings": YEAR} | broken
    with pytest.raises(ValidationError):
        MeasuredHeatLossRequest.model_validate(whole)


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("kind", ["from_summer", "given", "not_separated"])
def test_whatever_is_read_ends_in_an_answer_or_a_refusal(kind: str, seed: int) -> None:
    random = np.random.default_rng(seed)
    rows = readings(random.uniform(-60.0, 50.0, 60).tolist())
    for row in rows:
        row["energy_kwh"] = float(random.choice([0.0, 100_000.0, random.uniform(0.0, 50.0)]))
        row["solar_irradiation_kwh_m2"] = float(random.choice([0.0, 1200.0, random.uniform(0.0, 5.0)]))
    base_use = {"kind": kind} | ({"energy_kwh_per_day": 10_000.0} if kind == "given" else {})
    answered = refused_for = None
    try:
        answered = ask(rows, base_use=base_use, accepted_half_width=10, house=HOUSE)
    except warmstead.Refused as refusal:
        refused_for = {problem.code for problem in refusal.problems}
    assert refused_for in (None, {"insufficient_data"})
    json.dumps(answered, allow_nan=False)


def test_the_guide_s_figures_are_those_of_the_code() -> None:
    from importlib.resources import files

    page = files("warmstead").joinpath("guide", "measured-heat-loss.md").read_text(encoding="utf-8")
    ratios = {str(row["fuel"]): row["net_over_gross"] for row in table("calorific-values").rows}
    assert (
        f"{ratios['gas']:g} for `gas`, {ratios['liquid_gas']:g} for `liquid_gas` and {ratios['oil']:g} for `oil`"
        in page
    )
    assert f"| {measured_heat_loss.ACCEPTED_HALF_WIDTH:g}, with `default.accepted_half_width` |" in page
    assert f"(weight under {measured.OUTLYING_WEIGHT:g})" in page
    low, high = measured.USUAL_BASE_TEMPERATURES_C
    assert f"under {low:g} or over {high:g} °C" in page
    assert f"{measured.FEWEST_WARM_DAYS} days, without heating" in page
    assert f"shorter than {change_point.LONG_READING_DAYS:g} days" in page
    assert f"{change_point.TRANSFORMS_PER_READING:g} · n^(2/3)" in page
    assert like_basis.AIR_CHANGES_AT_50PA_OVER_MEAN == 20.0
