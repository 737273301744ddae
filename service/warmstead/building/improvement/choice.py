"""The cheapest set of measures that reaches a goal, by an exact solver. It knows only costs, states and quantities.

Unknowns of the mixed-integer programme: y_m, whether measure m is taken; x_gs, whether group g is in state s (a set of its
members), tied by Σ_s x_gs = 1 and Σ_{s∋m} x_gs = y_m. Where the y are whole numbers, so are the x. Each quantity is its
start plus Σ effect_gs · x_gs; the first is the load, every other must not be above 0 for the goal to be reached.

The solver works to tolerances. What it returns is therefore evaluated for itself, and cut off if it does not
reach the goal after all; the bounds it works with are looser by as much, so that nothing is lost.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import NamedTuple

from warmstead.building.improvement.quiet import quiet

Chosen = frozenset[int]
Quantities = tuple[float, ...]

ROW_SIZE = 20.0
"""The size to which rows are brought: the larger, the finer the solver's tolerance of a millionth, and the slower its search."""
LOOSER = 2e-6 / ROW_SIZE
"""By how much the solver's bounds are wider, as a share of the size of the numbers beside them: twice its tolerance."""
MOST_NODES = 3000
"""Nodes of the solver's trees for one request in all; unlike a time they are the same every time."""
MOST_NODES_AT_ONCE = 1000
MOST_TRIES = 60
"""Sets that are evaluated in search of one that truly reaches the goal."""
SAME_LOAD = 1e-9
"""A measure less is worth this share of the largest effect: it decides only between sets of the same cost and load."""
AGREEMENT = 1e-9
"""Relative difference between what the states add up to and the resolved house, from rounding alone."""


class States(NamedTuple):
    """What each set of a group's members changes, in every quantity. A set that is missing cannot stand together."""

    members: tuple[int, ...]
    effects: dict[Chosen, Quantities]


class Choices(NamedTuple):
    """All there is to choose from."""

    costs: tuple[float, ...]
    start: Quantities
    scales: Quantities
    """The size of what each quantity is the difference of: rounding is a share of this."""
    groups: tuple[States, ...]
    excluded: frozenset[tuple[int, int]]

    def cost(self, chosen: Chosen) -> float:
        """Return what a set costs, added up in the order of the measures."""
        return sum((self.costs[measure] for measure in sorted(chosen)), 0.0)

    def quantities(self, chosen: Chosen) -> Quantities | None:
        """Return the quantities with a set by the sum over its states; None if it cannot stand together."""
        if any(one in chosen and other in chosen for one, other in self.excluded):
            return None
        total = list(self.start)
        for group in self.groups:
            effect = group.effects.get(chosen.intersection(group.members))
            if effect is None:
                return None
            for index, change in enumerate(effect):
                total[index] += change
        return tuple(total)

    def reached(self, quantities: Quantities) -> bool:
        """Whether quantities reach the goal, the last digits aside."""
        return all(
            value <= AGREEMENT * scale for value, scale in zip(quantities[1:], self.scales[1:], strict=True)
        )

    def agree(self, one: Quantities | None, other: Quantities) -> bool:
        """Whether two evaluations of one set are the same but for rounding."""
        return one is not None and all(
            abs(a - b) <= AGREEMENT * scale for a, b, scale in zip(one, other, self.scales, strict=True)
        )


class Choice(NamedTuple):
    """A set of measures, and whether it is proved that none is better."""

    chosen: Chosen
    proved: bool


class Answer(NamedTuple):
    """The set sought, None where there is none, and whether that is proved."""

    chosen: Chosen | None
    proved: bool


Evaluate = Callable[[Chosen], Quantities]


class Budget:
    """Nodes that are left to the solver."""

    def __init__(self, nodes: int) -> None:
        self.nodes = nodes


class Chooser:
    """Answers questions about one set of choices, all of them out of one budget."""

    def __init__(self, choices: Choices, evaluate: Evaluate) -> None:
        """Take the choices, and what returns the true quantities of a set."""
        self._choices = choices
        self._evaluate = evaluate
        self._budget = Budget(MOST_NODES)

    def cheapest(self, without: Sequence[Chosen] = ()) -> Answer:
        """Return the cheapest set that reaches the goal; of several the one of least load, then of fewest measures.

        Args:
            without: sets that, with all that holds them, are not wanted.
        """
        programme = _Programme(self._choices, self._budget, without)
        linear = proved = True
        for _ in range(MOST_TRIES):
            found = programme.least_cost(goal=linear)
            proved = proved and found.proved
            if found.chosen is None:
                return Answer(None, proved)
            true = self._evaluate(found.chosen)
            if linear and not self._choices.agree(self._choices.quantities(found.chosen), true):
                # The states are no sum here: from now on all sets are looked at, the cheapest first.
                linear, programme = False, _Programme(self._choices, self._budget, without)
            elif self._choices.reached(true):
                return Answer(found.chosen, proved)
            else:
                programme.forbid(found.chosen)
        return Answer(None, proved=False)

    def nearest(self) -> Choice:
        """Return the set that falls least short of the goal, added up over its conditions; of several the cheapest."""
        return _Programme(self._choices, self._budget).least_shortfall()

    def least_load(self) -> Choice:
        """Return the set of least load; of several the cheapest."""
        return _Programme(self._choices, self._budget).least_load()

    def cheapest_under(self, most_load: float | None) -> Answer:
        """Return the cheapest set of no more than a load in W, whatever the goal; of several the one of least load."""
        return _Programme(self._choices, self._budget).least_cost(goal=False, most_load=most_load)


class _Programme:
    """The mixed-integer programme in the solver's terms."""

    def __init__(self, choices: Choices, budget: Budget, without: Sequence[Chosen] = ()) -> None:
        self._choices = choices
        self._budget = budget
        self._measures = len(choices.costs)
        self._columns: list[Quantities] = [()] * self._measures
        self._rows: list[tuple[dict[int, float], float, float]] = []
        self._tie()
        for one, other in sorted(choices.excluded):
            self._rows.append(({one: 1.0, other: 1.0}, 0.0, 1.0))
        for chosen in without:
            self._rows.append((dict.fromkeys(sorted(chosen), 1.0), 0.0, len(chosen) - 1.0))

    def _tie(self) -> None:
        """Tie the states of each group to the measures; a lone measure's state is the measure itself."""
        nothing = (0.0,) * len(self._choices.start)
        alone: dict[int, list[float]] = {m: list(nothing) for m in range(self._measures)}
        for group in self._choices.groups:
            if len(group.members) == 1 and len(group.effects) == 2:
                (measure,) = group.members
                for index, change in enumerate(group.effects[frozenset(group.members)]):
                    alone[measure][index] += change
                continue
            states = {state: len(self._columns) + index for index, state in enumerate(group.effects)}
            self._columns += list(group.effects.values())
            self._rows.append((dict.fromkeys(states.values(), 1.0), 1.0, 1.0))
            for member in group.members:
                row = {column: 1.0 for state, column in states.items() if member in state}
                self._rows.append(({**row, member: -1.0}, 0.0, 0.0))
        for measure, effects in alone.items():
            self._columns[measure] = tuple(effects)

    def forbid(self, chosen: Chosen) -> None:
        """Cut off one set."""
        row = {measure: -1.0 if measure in chosen else 1.0 for measure in range(self._measures)}
        self._rows.append((row, 1.0 - len(chosen), float(self._measures)))

    def least_cost(self, goal: bool, most_load: float | None = None) -> Answer:
        """Return the cheapest set; of several the one of least load.

        Args:
            goal: whether it has to be within the goal's loosened bounds.
            most_load: greatest load, W; None for any.
        """
        rows = self._goal_rows() if goal else []
        if most_load is not None:
            rows.append(self._quantity_row(0, most_load))
        first = self._solve(self._cost(), rows)
        if first.chosen is None:
            return first
        cost = self._choices.cost(first.chosen)
        return self._settle(first, self._load(), [*rows, self._cost_row(cost)], self._choices.cost, cost)

    def least_load(self) -> Choice:
        """Return the set of least load, then of least cost."""
        first = self._solve(self._load(), [])
        if first.chosen is None:
            return Choice(frozenset(), proved=False)
        load = self._load_of(first.chosen)
        row = self._quantity_row(0, load)
        settled = self._settle(first, self._cost(), [row], self._load_of, load)
        return Choice(settled.chosen or frozenset(), settled.proved)

    def least_shortfall(self) -> Choice:
        """Return the set whose shortfall, summed over the goal's conditions, is least, then of least cost."""
        choices = self._choices
        conditions = range(1, len(choices.start))
        largest = max(choices.scales[1:])
        # A slack for each condition takes up what is missing of it.
        slacks = {index: len(self._columns) + index - 1 for index in conditions}
        objective = {slacks[index]: choices.scales[index] / largest for index in conditions}
        rows: list[_Row] = []
        for index in conditions:
            row, low, high = self._quantity_row(index, 0.0)
            rows.append(({**row, slacks[index]: -1.0}, low, high))
        first = self._solve({c: 500.0 * weight for c, weight in objective.items()}, rows, len(slacks))
        if first.chosen is None:
            return Choice(frozenset(), proved=False)
        least = self._shortfall_of(first.chosen)
        rows.append((objective, -_INFINITE, ROW_SIZE * (least / largest + LOOSER)))
        settled = self._settle(first, self._cost(), rows, self._shortfall_of, least, len(slacks))
        return Choice(settled.chosen or frozenset(), settled.proved)

    def _settle(
        self,
        first: Answer,
        objective: dict[int, float],
        rows: list[_Row],
        measure: Callable[[Chosen], float],
        best: float,
        slacks: int = 0,
    ) -> Answer:
        """Decide between equals by a second objective; what proves to be no equal after all is not taken."""
        second = self._solve(objective, rows, slacks)
        if second.chosen is None or measure(second.chosen) > best + AGREEMENT * abs(best):
            return first
        return Answer(second.chosen, first.proved and second.proved)

    def _load_of(self, chosen: Chosen) -> float:
        quantities = self._choices.quantities(chosen)
        assert quantities is not None, "the solver keeps to what can stand together"
        return quantities[0]

    def _shortfall_of(self, chosen: Chosen) -> float:
        quantities = self._choices.quantities(chosen)
        assert quantities is not None, "the solver keeps to what can stand together"
        return sum(max(0.0, value) for value in quantities[1:])

    def _cost(self) -> dict[int, float]:
        largest = max(self._choices.costs, default=0.0) or 1.0
        return {measure: 1000.0 * cost / largest for measure, cost in enumerate(self._choices.costs)}

    def _cost_row(self, most: float) -> _Row:
        scale = (most or max(self._choices.costs, default=0.0) or 1.0) / ROW_SIZE
        row = {measure: cost / scale for measure, cost in enumerate(self._choices.costs) if cost}
        return row, -_INFINITE, most / scale * (1.0 + LOOSER)

    def _load(self) -> dict[int, float]:
        largest = max((abs(column[0]) for column in self._columns), default=0.0) or 1.0
        objective = {i: 10_000.0 * column[0] / largest for i, column in enumerate(self._columns)}
        for measure in range(self._measures):
            objective[measure] += 10_000.0 * SAME_LOAD
        return objective

    def _quantity_row(self, index: int, most: float) -> _Row:
        scale = self._choices.scales[index] / ROW_SIZE
        row = {i: column[index] / scale for i, column in enumerate(self._columns) if column[index]}
        return row, -_INFINITE, (most - self._choices.start[index]) / scale + LOOSER * ROW_SIZE

    def _goal_rows(self) -> list[_Row]:
        return [self._quantity_row(index, 0.0) for index in range(1, len(self._choices.start))]

    def _solve(self, objective: dict[int, float], rows: Iterable[_Row], slacks: int = 0) -> Answer:
        """Return the set of least objective."""
        if self._budget.nodes == 0:
            return Answer(None, proved=False)
        # Slow to import, and no other question needs them.
        import numpy as np
        from scipy.optimize import Bounds, LinearConstraint, milp
        from scipy.sparse import csr_array

        columns = len(self._columns) + slacks
        weights, upper, whole = np.zeros(columns), np.ones(columns), np.zeros(columns, dtype=np.int64)
        for column, weight in objective.items():
            weights[column] = weight
        upper[len(self._columns) :] = np.inf
        whole[: self._measures] = 1
        bounded = [row for row in (*self._rows, *rows) if row[0]]
        if not all(low <= 0.0 <= high for row, low, high in (*self._rows, *rows) if not row):
            return Answer(None, proved=True)  # a bound on what no measure changes, and it does not hold
        constraints = []
        if bounded:
            entries = [(r, c, v) for r, (row, _, _) in enumerate(bounded) for c, v in row.items()]
            at_rows, at_columns, values = zip(*entries, strict=True)
            matrix = csr_array((values, (at_rows, at_columns)), shape=(len(bounded), columns))
            lows, highs = [row[1] for row in bounded], [row[2] for row in bounded]
            constraints = [LinearConstraint(matrix, lows, highs)]
        with quiet():
            result = milp(
                weights,
                integrality=whole,
                bounds=Bounds(0.0, upper),
                constraints=constraints,
                # Presolving costs more than it saves here.
                options={
                    "mip_rel_gap": 0.0,
                    "node_limit": min(MOST_NODES_AT_ONCE, self._budget.nodes),
                    "presolve": False,
                },
            )
        self._budget.nodes = max(0, self._budget.nodes - (result.mip_node_count or 0))
        if result.x is None:
            return Answer(None, proved=result.status == INFEASIBLE)
        chosen = frozenset(m for m in range(self._measures) if result.x[m] > 0.5)
        return Answer(chosen, proved=result.status == SOLVED)


SOLVED, INFEASIBLE = 0, 2
"""The solver's words for these."""
_Row = tuple[dict[int, float], float, float]
"""Coefficients by column, and the lower and upper bound of their sum."""
_INFINITE = float("inf")
