"""A house's load as an uncertain quantity: its inputs, its draws, and everything that is stated of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from warmstead.building.balance import Balance
from warmstead.building.balance_inputs import HouseInputs
from warmstead.building.findings import Findings
from warmstead.building.heat_pumps import (
    Limits,
    ResolvedCandidate,
    hot_water_hours_per_day,
    value_at,
    verdict,
)
from warmstead.building.house import ResolvedHouse
from warmstead.building.uncertainty.inputs import UncertainInput, UncertainInputs
from warmstead.building.uncertainty.monte_carlo import Sample, Sensitivity, draw, sensitivities
from warmstead.building.uncertainty.statements import (
    CandidateProbability,
    ChoiceStatement,
    FirstOrder,
    InputStatement,
    Intervals,
    IntervalStatement,
    MeasureNext,
    RoomUncertainty,
    Tolerances,
)
from warmstead.building.uncertainty.worth import Choice, Standing, choice_now, standing, wrong_if_known
from warmstead.standards import jcgm_101
from warmstead.standards.en_14825 import required_capacity
from warmstead.survey.heat_pumps import HotWater

MOST_WORK = 50_000_000
"""Draws times what one of them costs, in terms of the balance: about a second."""
ROOM_COST, INPUT_COST = 10, 10
"""What a room's interval and an input's random numbers cost, in terms of the balance (measured, roughly)."""
MOST_LEFT_OUT = 0.001
"""Share of draws that may contradict themselves before the distributions are no description of the house."""
NEGLIGIBLE = 1e-6
"""Share of the variance under which an input does not matter."""


class Candidates(NamedTuple):
    """Heat pumps to choose from."""

    resolved: list[ResolvedCandidate]
    coverages: list[float]
    """By the survey."""
    hot_water: HotWater | None
    limits: Limits

    @classmethod
    def resolve(
        cls,
        resolved: list[ResolvedCandidate],
        hot_water: HotWater | None,
        limits: Limits,
        house: ResolvedHouse,
        findings: Findings,
    ) -> Candidates:
        """Return candidates with their coverage by the survey, problems noted."""
        coverages = []
        for one in resolved:
            capacity = value_at(one.capacity_w, house.external_c, one.at, findings)
            hours = hot_water_hours_per_day(hot_water, one, house.external_c, findings)
            if capacity is not None and hours is not None:
                coverages.append(capacity / required_capacity(house.design_heat_load_w, hours))
        return cls(resolved, coverages, hot_water, limits)


class UncertainLoad:
    """Gathers what is uncertain about a house, then draws."""

    def __init__(self, house: ResolvedHouse, findings: Findings) -> None:
        self._house = house
        self._findings = findings
        self._inputs = HouseInputs(house)
        self.inputs = UncertainInputs(house, self._inputs, findings)

    def check_cost(self, draws: int) -> None:
        """Refuse more draws than a house of this size is worth."""
        listed = self.inputs.listed
        cost = self._balance().terms + ROOM_COST * len(self._house.rooms) + INPUT_COST * len(listed)
        if draws * cost > MOST_WORK:
            detail = f"at most {MOST_WORK // cost} draws for this house with {len(listed)} uncertain inputs"
            self._findings.refuse("out_of_range", "/draws", detail)

    def _balance(self) -> Balance:
        varying = {key for item in self.inputs.listed for key in item.found.keys}
        return Balance(self._house, self._inputs, varying)

    def draw(self, draws: int, seed: int, probability: float, candidates: Candidates | None) -> Outcome:
        """Return what the draws say.

        Args:
            draws: their number.
            seed: of the random numbers.
            probability: coverage probability.
            candidates: heat pumps to choose from.

        Raises:
            Refused: too many draws contradict themselves.
        """
        balance, listed = self._balance(), self.inputs.listed
        slopes = sensitivities(balance, self._inputs, listed)
        sample = draw(balance, self._inputs, listed, len(self._house.rooms), draws, seed)
        self._tell_of(sample, draws)
        standings: list[Standing] = []
        if candidates is not None:
            standings = [
                standing(one, candidates.hot_water, candidates.limits, sample.house_w, sample.external_c)
                for one in candidates.resolved
            ]
            for one, found in zip(candidates.resolved, standings, strict=True):
                if found.outside_table > 0.0:
                    detail = f"{found.outside_table:.1%} of the draws are outside its table and count for none of the probabilities"
                    self._findings.warn("unusual.outside_table", f"{one.at}/performance", detail)
        return Outcome(
            house=self._house,
            listed=listed,
            sample=sample,
            slopes=slopes,
            probability=probability,
            candidates=candidates,
            standings=standings,
            moments=jcgm_101.moments(sample.house_w),
            intervals=jcgm_101.coverage_intervals(np.sort(sample.house_w), probability),
        )

    def _tell_of(self, sample: Sample, draws: int) -> None:
        """Warn of values drawn again and of draws left out; refuse too many of these."""
        for item, redrawn in zip(self.inputs.listed, sample.redrawn, strict=True):
            if redrawn:
                detail = f"{redrawn} of {draws} values of {item.found.words} were not physical and were drawn again"
                self._findings.warn("assumption.drawn_again", item.pointer, detail)
        if sample.left_out:
            what = "a room as cold as outside, openings larger than their wall, or an unheated space without a temperature"
            if sample.left_out > MOST_LEFT_OUT * draws:
                share = sample.left_out / draws
                self._findings.refuse(
                    "contradiction", "/quantities", f"{share:.1%} of the draws contradict themselves: {what}"
                )
                self._findings.stop_if_refused()
            detail = f"{sample.left_out} of {draws} draws contradict themselves and were left out: {what}"
            self._findings.warn("unusual.draws_left_out", "/quantities", detail)


@dataclass
class Outcome:
    """What the draws say of the house."""

    house: ResolvedHouse
    listed: Sequence[UncertainInput]
    sample: Sample
    slopes: Sensitivity
    probability: float
    candidates: Candidates | None
    standings: list[Standing]
    moments: jcgm_101.Moments
    intervals: jcgm_101.CoverageIntervals

    def __post_init__(self) -> None:
        """Work out what several statements need."""
        self.draws = len(self.sample.house_w)
        self.median_w = float(np.median(self.sample.house_w))
        self.contributions_w = [
            abs(slope) * item.distribution.standard_uncertainty
            for slope, item in zip(self.slopes.coefficients, self.listed, strict=True)
        ]
        self.combined_w = jcgm_101.combined_standard_uncertainty(self.contributions_w)
        self.choice: Choice | None = choice_now(self.standings) if self.standings else None
        self.probability_tolerance = (
            self.draws**-0.5
        )  # twice √(¼/M), the standard error of a share of one half

    def interval_statements(self) -> Intervals:
        """State both intervals."""
        return {
            "symmetric": _interval(self.intervals.symmetric),
            "shortest": _interval(self.intervals.shortest),
        }

    def tolerances(self) -> Tolerances:
        """State how far the draws may be off."""
        return {
            "mean_w": self.moments.mean_tolerance,
            "standard_uncertainty_w": self.moments.standard_uncertainty_tolerance,
            "low_w": self.intervals.low_tolerance,
            "high_w": self.intervals.high_tolerance,
            "probability": self.probability_tolerance,
        }

    def first_order(self) -> FirstOrder:
        """State the law of propagation beside the draws."""
        interval = jcgm_101.normal_interval(self.slopes.load_w, self.combined_w, self.probability)
        noise = 1e-9 * abs(self.slopes.load_w)
        spread = self.moments.standard_uncertainty
        tolerance = jcgm_101.numerical_tolerance(spread) if spread > noise else noise
        return {
            "load_w": self.slopes.load_w,
            "standard_uncertainty_w": self.combined_w,
            "low_w": interval.low,
            "high_w": interval.high,
            "tolerance_w": tolerance,
            "agreement": jcgm_101.agreement(interval, self.intervals, tolerance),
        }

    def room_statements(self) -> list[RoomUncertainty]:
        """State every room."""
        lines = self.sample.rooms_w
        means, spreads = lines.mean(axis=1), lines.std(axis=1, ddof=1)
        lows, highs = jcgm_101.symmetric_ends(lines, self.probability)
        return [
            {
                "id": room.id,
                "design_heat_load_w": room.design_heat_load_w,
                "mean_w": float(means[place]),
                "standard_uncertainty_w": float(spreads[place]),
                "low_w": float(lows[place]),
                "high_w": float(highs[place]),
            }
            for place, room in enumerate(self.house.rooms)
        ]

    def candidate_statements(self) -> list[CandidateProbability]:
        """State every candidate."""
        assert self.candidates is not None, "asked for only where there are candidates"
        return [
            {
                "id": one.candidate.id,
                "verdict": verdict(coverage, self.candidates.limits),
                "coverage": coverage,
                "probability_suitable": found.within,
                "probability_undersized": found.undersized,
                "probability_oversized": found.oversized,
                "outside_table": found.outside_table,
            }
            for one, coverage, found in zip(
                self.candidates.resolved, self.candidates.coverages, self.standings, strict=True
            )
        ]

    def choice_statement(self) -> ChoiceStatement:
        """State the choice as things stand."""
        assert self.candidates is not None, "asked for only where there are candidates"
        assert self.choice is not None, "there is a choice where there are candidates"
        return {
            "best": self.candidates.resolved[self.choice.best].candidate.id,
            "probability_of_wrong_choice": self.choice.wrong,
            "probability_if_all_known": self.choice.wrong_if_all_known,
        }

    def input_statements(self) -> list[InputStatement]:
        """State every uncertain input, the largest share first."""
        statements = [self._input(place) for place in range(len(self.listed))]
        return sorted(statements, key=lambda one: (-one["share_of_variance"], -one["contribution_w"]))

    def _input(self, place: int) -> InputStatement:
        item, share = self.listed[place], self.sample.shares[place]
        width = self.intervals.symmetric.width
        left = width * max(0.0, 1.0 - share) ** 0.5
        statement: InputStatement = {
            **item.where,  # type: ignore[typeddict-item]  # all of it names of the request's quantity
            "pointer": item.pointer,
            "description": item.found.words,
            "unit": item.found.unit,
            "value": item.found.value,
            "mean": item.distribution.mean,
            "standard_uncertainty": item.distribution.standard_uncertainty,
            "sensitivity_coefficient": self.slopes.coefficients[place],
            "contribution_w": self.contributions_w[place],
            "share_of_variance": share,
            "first_order_share": (self.contributions_w[place] / self.combined_w) ** 2
            if self.combined_w
            else 0.0,
            "interval_width_if_known_w": left,
            "narrowing_w": width - left,
        }
        if self.choice is not None:
            known = self.choice.wrong
            if share > NEGLIGIBLE:
                known = wrong_if_known(self.standings, self.sample.bins[place], self.choice)
            statement["probability_of_wrong_choice_if_known"] = known
        return statement

    def measure_next(self, statements: Sequence[InputStatement]) -> MeasureNext | None:
        """Say which input to measure next: what mends the choice most, else what narrows the interval most."""
        if not statements or statements[0]["share_of_variance"] <= NEGLIGIBLE:
            return None
        widest = statements[0]
        following: MeasureNext = {
            "pointer": widest["pointer"],
            "description": widest["description"],
            "narrowing_w": widest["narrowing_w"],
            "reason": f"it explains {widest['share_of_variance']:.0%} of the load's variance: knowing it exactly would narrow "
            f"the interval of {self.intervals.symmetric.width:.0f} W by {widest['narrowing_w']:.0f} W",
        }
        if self.choice is None:
            return following
        helping = min(statements, key=lambda one: one["probability_of_wrong_choice_if_known"])
        drop = self.choice.wrong - helping["probability_of_wrong_choice_if_known"]
        if drop <= self.probability_tolerance:
            following["drop_in_wrong_choice"] = (
                self.choice.wrong - widest["probability_of_wrong_choice_if_known"]
            )
            following["reason"] += (
                "; no single input changes the choice of the unit by more than the draws can tell"
            )
            return following
        return {
            "pointer": helping["pointer"],
            "description": helping["description"],
            "narrowing_w": helping["narrowing_w"],
            "drop_in_wrong_choice": drop,
            "reason": f"knowing it exactly would make a wrong choice of the unit {100.0 * drop:.0f} percentage points less likely, "
            f"{self.choice.wrong:.0%} now, and narrow the interval of {self.intervals.symmetric.width:.0f} W "
            f"by {helping['narrowing_w']:.0f} W",
        }


def _interval(interval: jcgm_101.Interval) -> IntervalStatement:
    return {"low_w": interval.low, "high_w": interval.high, "width_w": interval.width}
