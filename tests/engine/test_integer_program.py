"""The exact choice within a price, compared with work by hand, every choice, another solver."""

from __future__ import annotations

import itertools
import math
import random
import subprocess
import sys
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from functools import cache
from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from references import reference

from assess.planning.integer_program import best, cheapest, efficient_frontier, fullest
from assess.planning.problem_reduction import reduced
from assess.planning.selection_problem import Gain, Limit, Problem, Selection, Whole


def one_of(*steps: str) -> frozenset[str]:
    return frozenset(steps)


def each_of(*steps: str) -> tuple[frozenset[str], ...]:
    return tuple(frozenset({step}) for step in steps)


def chosen(selection: Selection | None) -> list[str]:
    assert selection is not None
    return sorted(selection.steps)


BELLOWS = Problem(
    prices={"open": 10, "close": 0, "patch": 2, "releather": 9, "ease": 4},
    pulls={
        "open": each_of("close"),
        "close": each_of("open"),
        "patch": each_of("open"),
        "releather": each_of("open"),
        "ease": each_of("open"),
    },
    gains={
        "holds": Gain(5, (one_of("patch", "releather"),)),
        "lasts": Gain(4, each_of("releather")),
        "moves": Gain(3, each_of("ease")),
    },
)


def test_what_two_gains_share_is_paid_once() -> None:
    selection = best(BELLOWS, 16)
    assert selection is not None
    assert selection == Selection(
        one_of("open", "close", "patch", "ease"), one_of("holds", "moves"), 8, 16
    )


def test_what_cannot_be_opened_within_the_budget_is_left_alone() -> None:
    assert best(BELLOWS, 11.99) == Selection(frozenset(), frozenset(), 0, 0)
    assert chosen(best(BELLOWS, 12)) == ["close", "open", "patch"]


def test_the_thorough_step_stands_in_for_the_lesser() -> None:
    selection = best(BELLOWS, 22)
    assert selection is not None
    assert chosen(selection) == ["close", "open", "releather"]
    assert selection.points == 9


def test_a_circle_of_steps_that_cost_nothing_is_not_chosen_for_nothing() -> None:
    free = replace(BELLOWS, prices={**BELLOWS.prices, "open": 0, "ease": 100, "patch": 100})
    assert chosen(best(free, 8)) == []
    assert chosen(best(free, 9)) == ["close", "open", "releather"]
    assert chosen(cheapest(free)) == []


def test_of_the_ways_that_cost_nothing_the_shorter_is_taken() -> None:
    problem = Problem(
        {"long": 0, "way": 0, "short": 0},
        {"long": each_of("way"), "way": each_of("long")},
        {"there": Gain(1, (one_of("long", "short"),))},
    )
    assert chosen(fullest(problem)) == ["short"]


def test_of_two_rivals_only_one_counts() -> None:
    rivals = replace(BELLOWS, rivals=(one_of("holds", "lasts"),))
    selection = fullest(rivals)
    assert selection is not None
    assert selection.gains == {"holds", "moves"}
    assert selection.price == 16


def test_what_is_demanded_is_bought_before_what_gains_more() -> None:
    demanded = replace(BELLOWS, demanded=(one_of("moves"), one_of("holds", "lasts")))
    assert best(demanded, 15.99) is None
    assert cheapest(demanded) == best(demanded, 16)
    assert chosen(cheapest(replace(BELLOWS, demanded=(one_of("lasts", "moves"),)))) == [
        "close",
        "ease",
        "open",
    ]


def test_what_is_demanded_of_two_rivals_cannot_be_had() -> None:
    both = (one_of("holds"), one_of("lasts"))
    impossible = replace(BELLOWS, demanded=both, rivals=(one_of("holds", "lasts"),))
    assert cheapest(impossible) is None
    assert fullest(impossible) is None
    assert efficient_frontier(impossible) == ()


def sheet(first: float, second: float) -> Problem:
    """Two steps that each take a part of a sheet."""
    return Problem(
        {"first": 1, "second": 1},
        {},
        {"one": Gain(1, each_of("first")), "two": Gain(1, each_of("second"))},
        wholes=(Whole(20, {"first": first, "second": second}),),
    )


@pytest.mark.parametrize(
    ("first", "second", "price"), [(0.5, 0.4, 22), (0.3, 0.7, 22), (0.6, 0.5, 42), (0, 0.1, 22)]
)
def test_a_sheet_is_bought_whole_and_shared(first: float, second: float, price: float) -> None:
    selection = fullest(sheet(first, second))
    assert selection is not None
    assert selection.price == price
    assert (best(sheet(first, second), price) or selection).points == 2
    assert getattr(best(sheet(first, second), price - 0.01), "points", None) == 1


def test_rounding_errors_do_not_buy_another_unit() -> None:
    amounts = dict.fromkeys((f"s{n}" for n in range(10)), 0.1 * 3)
    assert math.fsum(amounts.values()) > 3
    gains = {step: Gain(1, each_of(step)) for step in amounts}
    selection = fullest(Problem(dict.fromkeys(amounts, 1), {}, gains, wholes=(Whole(7, amounts),)))
    assert selection is not None
    assert selection.price == 10 + 3 * 7


def test_a_budget_that_is_met_to_the_cent_is_met() -> None:
    prices = {"a": 0.1, "b": 0.2}
    gains = {step: Gain(1, each_of(step)) for step in prices}
    selection = best(Problem(prices, {}, gains), 0.3)
    assert selection is not None
    assert selection.points == 2


def test_refused_sets_give_way_to_the_next_best() -> None:
    refused: list[frozenset[str]] = []
    points = []
    while (selection := best(BELLOWS, 23, refused)) is not None:
        assert not any(steps <= selection.steps for steps in refused)
        refused.append(selection.steps)
        points.append(selection.points)
    # Patching goes with each refused set that re-leathers, and all goes with doing nothing.
    assert points == [12, 9, 8, 5, 3, 0]


def test_where_the_solver_gives_up_it_begins_again() -> None:
    """Once found by chance: the solver ended in an error from where the first aim had left it."""
    either = frozenset({"s0", "s1"})
    problem = Problem(
        prices={"s0": 11, "s1": 0, "s2": 0, "s3": 11, "s4": 0, "s5": 11},
        pulls={"s3": (either, frozenset({"s0", "s2", "s5"}))},
        gains={
            "g0": Gain(1 / 6, (either,)),
            "g1": Gain(1 / 6, (frozenset({"s3"}), frozenset({"s0", "s3"}))),
        },
        wholes=(Whole(1, {"s0": 0.1}),),
    )
    selection = best(problem, 20, [frozenset({"s1", "s2"})])
    assert selection is not None
    assert (selection.points, selection.price) == (pytest.approx(1 / 6), 0)


def test_a_frontier_by_hand() -> None:
    assert [(point.price, point.points) for point in efficient_frontier(BELLOWS)] == [
        (0, 0),
        (23, 12),
    ]
    costlier = replace(BELLOWS, prices={**BELLOWS.prices, "releather": 30})
    assert [(point.price, point.points) for point in efficient_frontier(costlier)] == [
        (0, 0),
        (16, 8),
        (44, 12),
    ]


def test_nothing_to_choose_from_is_chosen_from() -> None:
    nothing = Selection(frozenset(), frozenset(), 0, 0)
    empty = Problem({}, {}, {})
    assert best(empty, 1) == cheapest(empty) == fullest(empty) == nothing
    assert efficient_frontier(empty) == (nothing,)
    assert best(empty, -1) is None


@pytest.mark.parametrize(
    ("changed", "names"),
    [
        ({"prices": {**BELLOWS.prices, "ease": -1}}, "ease"),
        ({"prices": {**BELLOWS.prices, "ease": math.nan}}, "ease"),
        ({"prices": {**BELLOWS.prices, "ease": math.inf}}, "ease"),
        ({"pulls": {"ease": each_of("turn")}}, "turn"),
        ({"pulls": {"turn": each_of("ease")}}, "turn"),
        ({"gains": {"moves": Gain(1, each_of("turn"))}}, "turn"),
        ({"gains": {"moves": Gain(0, ())}}, "moves"),
        ({"gains": {"moves": Gain(math.nan, ())}}, "moves"),
        ({"rivals": (one_of("shines"),)}, "shines"),
        ({"demanded": (one_of("shines"),)}, "shines"),
        ({"wholes": (Whole(1, {"turn": 1}),)}, "turn"),
        ({"wholes": (Whole(1, {"ease": -1}),)}, "ease"),
        ({"wholes": (Whole(math.inf, {"ease": 1}),)}, "whole unit"),
    ],
)
def test_what_is_impossible_is_refused_by_name(changed: dict[str, Any], names: str) -> None:
    with pytest.raises(ValueError, match=names):
        best(replace(BELLOWS, **changed), 10)


def test_other_senseless_arguments_are_refused() -> None:
    with pytest.raises(ValueError, match="budget"):
        best(BELLOWS, math.nan)
    with pytest.raises(ValueError, match="turn"):
        best(BELLOWS, 10, [one_of("turn")])


def test_the_solver_is_not_loaded_before_it_is_asked() -> None:
    code = (
        "import sys, assess.planning.integer_program; "
        "print({'highspy', 'numpy'} & sys.modules.keys())"
    )
    loaded = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    )
    assert loaded.stdout.strip() == "set()"


def test_the_solver_prints_nothing(capfd: pytest.CaptureFixture[str]) -> None:
    efficient_frontier(BELLOWS)
    assert capfd.readouterr() == ("", "")


# Every possible choice of small problems.


def subsets(names: Iterable[str]) -> Iterator[frozenset[str]]:
    listed = sorted(names)
    for size in range(len(listed) + 1):
        yield from map(frozenset, itertools.combinations(listed, size))


def holds(problem: Problem, steps: frozenset[str]) -> bool:
    sums = (sum(limit.amounts.get(s, 0) for s in steps) for limit in problem.limits)
    within = all(s <= limit.most + 1e-9 for s, limit in zip(sums, problem.limits, strict=True))
    return within and all(
        any_of & steps for step in steps for any_of in problem.pulls.get(step, ())
    )


def met(problem: Problem, steps: frozenset[str]) -> frozenset[str]:
    gains = problem.gains.items()
    return frozenset(n for n, gain in gains if all(any_of & steps for any_of in gain.needs))


def may_count(problem: Problem, gains: frozenset[str]) -> bool:
    return all(len(gains & group) <= 1 for group in problem.rivals) and all(
        gains & group for group in problem.demanded
    )


def points_of(problem: Problem, gains: frozenset[str]) -> float:
    return sum(problem.gains[gain].points for gain in gains)


def price_of(problem: Problem, steps: frozenset[str]) -> float:
    wholes = (
        whole.price * math.ceil(round(sum(whole.amounts.get(s, 0) for s in steps), 4))
        for whole in problem.wholes
    )
    return sum(problem.prices[step] for step in steps) + sum(wholes)


def every_choice(problem: Problem) -> list[tuple[frozenset[str], float, float]]:
    """Steps, points and price of all that may be chosen."""

    @cache
    def most(gains: frozenset[str]) -> float:
        counts = (points_of(problem, g) for g in subsets(gains) if may_count(problem, g))
        return max(counts, default=-math.inf)

    choices = (
        (steps, most(met(problem, steps)), price_of(problem, steps))
        for steps in subsets(problem.prices)
        if holds(problem, steps)
    )
    return [choice for choice in choices if choice[1] > -math.inf]


@st.composite
def problems(draw: st.DrawFn, most_steps: int = 10) -> Problem:
    steps = [f"s{n}" for n in range(draw(st.integers(1, most_steps)))]
    some_steps = st.frozensets(st.sampled_from(steps), min_size=1, max_size=3)
    prices = st.sampled_from([0, 0, 1, 2, 2.5, 3, 7.25, 11])
    needs = st.lists(some_steps, max_size=2).map(tuple)
    points = st.sampled_from([1 / 6, 1 / 2, 1, 4 / 3, 3, 5])
    gains = {f"g{n}": draw(st.builds(Gain, points, needs)) for n in range(draw(st.integers(0, 5)))}
    groups = st.lists(st.frozensets(st.sampled_from(sorted(gains) or [""]), max_size=3), max_size=2)
    demanded = groups.map(tuple) if gains and draw(st.booleans()) else st.just(())
    amounts = st.dictionaries(
        st.sampled_from(steps), st.sampled_from([0.1, 0.25, 0.3, 0.7, 1, 1.5]), max_size=5
    )
    return Problem(
        {step: draw(prices) for step in steps},
        draw(st.dictionaries(st.sampled_from(steps), needs)),
        gains,
        tuple(draw(groups)) if gains else (),
        draw(demanded),
        tuple(draw(st.lists(st.builds(Whole, st.sampled_from([1, 4, 9]), amounts), max_size=2))),
        tuple(draw(st.lists(st.builds(Limit, amounts, st.sampled_from([0, 0.7, 2])), max_size=1))),
    )


def assert_true(problem: Problem, selection: Selection) -> None:
    """A selection is allowed and adds up."""
    assert holds(problem, selection.steps)
    assert selection.gains <= met(problem, selection.steps)
    assert may_count(problem, selection.gains)
    assert selection.points == pytest.approx(points_of(problem, selection.gains), abs=1e-6)
    assert selection.price == pytest.approx(price_of(problem, selection.steps), abs=1e-6)


def assert_nothing_needless(problem: Problem, selection: Selection) -> None:
    """Without any one step, and what cannot be done without it, a gain is lost."""
    for needless in selection.steps:
        left = selection.steps - {needless}
        while not holds(problem, left):
            pulls = {step: problem.pulls.get(step, ()) for step in left}
            left = frozenset(s for s in left if all(any_of & left for any_of in pulls[s]))
        assert not met(problem, left) >= selection.gains, needless


def assert_is(
    problem: Problem,
    selection: Selection | None,
    choices: list[tuple[frozenset[str], float, float]],
    rank: Callable[[float, float], tuple[float, float]],
) -> None:
    """A selection has the points and the price of the choice that ranks first."""
    if not choices:
        assert selection is None
        return
    assert selection is not None
    assert_true(problem, selection)
    first = min(rank(round(points, 9), round(price, 9)) for _, points, price in choices)
    assert rank(selection.points, selection.price) == pytest.approx(first, abs=1e-6)


def most_then_cheapest(points: float, price: float) -> tuple[float, float]:
    return -points, price


def cheapest_then_most(points: float, price: float) -> tuple[float, float]:
    return price, -points


@given(problems(), st.sampled_from([0, 1, 2.5, 4, 7.25, 10, 13.5, 20]))
def test_the_best_is_the_best_of_every_choice(problem: Problem, budget: float) -> None:
    within = [choice for choice in every_choice(problem) if choice[2] <= budget + 1e-9]
    selection = best(problem, budget)
    assert_is(problem, selection, within, most_then_cheapest)
    if selection:
        assert_nothing_needless(problem, selection)


@given(problems())
def test_the_cheapest_and_the_fullest_are_those_of_every_choice(problem: Problem) -> None:
    choices = every_choice(problem)
    assert_is(problem, cheapest(problem), choices, cheapest_then_most)
    assert_is(problem, fullest(problem), choices, most_then_cheapest)
    for selection in (cheapest(problem), fullest(problem)):
        if selection:
            assert_nothing_needless(problem, selection)


@given(problems(), st.sampled_from([4, 10, 20]), st.data())
def test_refused_sets_and_all_that_hold_them_are_left_out_and_no_others(
    problem: Problem, budget: float, data: st.DataObject
) -> None:
    within = [choice for choice in every_choice(problem) if choice[2] <= budget + 1e-9]
    ranked = sorted(within, key=lambda choice: (-choice[1], choice[2]))
    refused = [steps for steps, _, _ in ranked[: data.draw(st.integers(1, 4))]]
    left = [choice for choice in within if not any(steps <= choice[0] for steps in refused)]
    selection = best(problem, budget, refused)
    assert_is(problem, selection, left, most_then_cheapest)
    assert selection is None or not any(steps <= selection.steps for steps in refused)


@given(problems(), st.sampled_from([0.1, 0.37, 1, 2]))
def test_what_nets_most_of_every_choice_is_on_the_frontier(problem: Problem, worth: float) -> None:
    """Picard (1976): the most points less price is at a corner of the hull."""
    points = efficient_frontier(problem)
    assume(points)
    nets = [gained - worth * price for _, gained, price in every_choice(problem)]
    assert max(p.points - worth * p.price for p in points) == pytest.approx(max(nets), abs=1e-6)


@settings(max_examples=30)
@given(problems(), st.sampled_from([0.5, 3.0, 100.0]))
def test_a_coarse_frontier_is_a_part_of_the_whole_one(problem: Problem, apart: float) -> None:
    every, some = efficient_frontier(problem), efficient_frontier(problem, apart)
    assert bool(some) == bool(every)
    corners = [(p.price, p.points) for p in every]
    for point in some:
        assert any((point.price, point.points) == pytest.approx(c, abs=1e-6) for c in corners)
    for end in (0, -1) if every else ():
        assert some[end].price == pytest.approx(every[end].price, abs=1e-6)
    missing = sum(upper.price - lower.price > apart for lower, upper in itertools.pairwise(some))
    between = (
        any(lower.price + 1e-6 < c[0] < upper.price - 1e-6 for c in corners)
        for lower, upper in itertools.pairwise(some)
        if upper.price - lower.price > apart
    )
    assert not any(between), missing


@given(problems())
def test_a_smaller_problem_has_the_same_choices(problem: Problem) -> None:
    """Steps in a circle become one, and rows that follow from others are left out."""
    smaller = reduced(problem)
    assert smaller.stands_for.keys() == problem.prices.keys()
    assert len(smaller.problem.prices) <= len(problem.prices)
    choices = every_choice(problem)
    assert {smaller.all_of(s) for s in (c[0] for c in every_choice(smaller.problem))} >= {
        c[0] for c in choices
    }
    assert all(smaller.all_of(smaller.forced) <= steps for steps, _, _ in choices)


@given(problems())
def test_a_frontier_is_the_hull_of_every_choice(problem: Problem) -> None:
    points = efficient_frontier(problem)
    choices = every_choice(problem)
    assert bool(points) == bool(choices)
    for point in points:
        assert_true(problem, point)
        assert_nothing_needless(problem, point)
        at_its_price = max(points for _, points, price in choices if price <= point.price + 1e-6)
        assert point.points == pytest.approx(at_its_price, abs=1e-6)
    slopes = []
    for lower, upper in itertools.pairwise(points):
        assert lower.price < upper.price
        assert lower.points < upper.points
        slopes.append((upper.points - lower.points) / (upper.price - lower.price))
        above = [
            points - lower.points - slopes[-1] * (price - lower.price)
            for _, points, price in choices
        ]
        assert max(above) <= 1e-6
    assert all(steeper > flatter for steeper, flatter in itertools.pairwise(slopes))
    if points:
        low, full = cheapest(problem), fullest(problem)
        assert low is not None
        assert full is not None
        assert (points[0].points, points[0].price) == pytest.approx((low.points, low.price))
        assert (points[-1].points, points[-1].price) == pytest.approx((full.points, full.price))


# Large problems, compared with another solver.


def workshop_job(seed: int, work: int = 220, gains: int = 120, places: int = 20) -> Problem:
    """Nested places, repairs in them with alternatives, and whole sheets; all in integers."""
    draw = random.Random(seed)
    opening, closing = [f"open{n}" for n in range(places)], [f"close{n}" for n in range(places)]
    repairs = [f"repair{n}" for n in range(work)]
    prices = {step: draw.choice([0, 0, 4, 9, 15]) for step in opening + closing}
    prices |= {step: draw.randint(1, 150) for step in repairs}
    pulls = {step: each_of(opening[n]) for n, step in enumerate(closing)}
    for n, step in enumerate(opening):
        around = [opening[draw.randrange(n)]] if n else []
        pulls[step] = each_of(closing[n], *around)
    for n, step in enumerate(repairs):
        also = [frozenset(draw.sample(repairs[:n], draw.choice([1, 1, 2])))] if n > 9 else []
        pulls[step] = (*each_of(draw.choice(opening)), *also[: draw.randrange(2)])
    wanted = {}
    for n in range(gains):
        sets = (draw.sample(repairs, draw.choice([1, 1, 2])) for _ in range(draw.choice([1, 1, 2])))
        wanted[f"gain{n}"] = Gain(draw.randint(1, 60), tuple(map(frozenset, sets)))
    names = sorted(wanted)
    return Problem(
        prices,
        pulls,
        wanted,
        rivals=tuple(frozenset(draw.sample(names, 2)) for _ in range(8)),
        demanded=tuple(frozenset(draw.sample(names, 2)) for _ in range(3)),
        wholes=tuple(
            Whole(
                draw.randint(5, 60), {s: draw.randint(1, 40) / 100 for s in draw.sample(repairs, 8)}
            )
            for _ in range(6)
        ),
    )


class OtherSolver:
    """The same problem as constraints between booleans, for a solver of another kind."""

    def __init__(self, problem: Problem) -> None:
        from ortools.sat.python import cp_model

        self.cp = cp_model
        self.model = model = cp_model.CpModel()
        steps = {step: model.new_bool_var(step) for step in problem.prices}
        gains = {gain: model.new_bool_var(gain) for gain in problem.gains}
        for step, sets in problem.pulls.items():
            for any_of in sets:
                model.add_bool_or([steps[s] for s in any_of]).only_enforce_if(steps[step])
        for name, gain in problem.gains.items():
            for any_of in gain.needs:
                model.add_bool_or([steps[s] for s in any_of]).only_enforce_if(gains[name])
        for group in problem.rivals:
            model.add_at_most_one(gains[gain] for gain in group)
        for group in problem.demanded:
            model.add_bool_or([gains[gain] for gain in group])
        self.price: Any = sum(int(price) * steps[step] for step, price in problem.prices.items())
        for whole in problem.wholes:
            units = model.new_int_var(0, 1000, "units")
            used = sum(round(100 * amount) * steps[s] for s, amount in whole.amounts.items())
            model.add(100 * units >= used)
            self.price += int(whole.price) * units
        self.points: Any = sum(int(problem.gains[name].points) * gains[name] for name in gains)

    def most(self, aim: Any) -> int:
        solver = self.cp.CpSolver()
        # With several workers it shares two slow cores among searches that ignore the relaxation.
        solver.parameters.num_workers = 1
        solver.parameters.linearization_level = 2
        self.model.maximize(aim)
        assert solver.solve(self.model) == self.cp.OPTIMAL
        return round(solver.objective_value)

    def lowest_price(self) -> int:
        return -self.most(-self.price)

    def best(self, budget: float) -> tuple[int, int]:
        self.model.add(self.price <= math.floor(budget))
        points = self.most(self.points)
        self.model.add(self.points >= points)
        return points, self.lowest_price()


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("part", [0.15, 0.6])
def test_another_solver_finds_nothing_better_in_a_large_job(seed: int, part: float) -> None:
    problem = workshop_job(seed)
    low, full = cheapest(problem), fullest(problem)
    assert low is not None
    assert full is not None
    budget = low.price + part * (full.price - low.price)
    selection = best(problem, budget)
    assert selection is not None
    assert_true(problem, selection)
    assert (selection.points, selection.price) == OtherSolver(problem).best(budget)
    assert low.price == OtherSolver(problem).lowest_price()
    assert (full.points, full.price) == OtherSolver(problem).best(1e6)


@pytest.mark.parametrize("seed", range(2))
def test_another_solver_finds_nothing_above_the_frontier_of_a_large_job(seed: int) -> None:
    problem = workshop_job(seed)
    points = efficient_frontier(problem)
    assert len(points) > 10
    for point in points:
        assert_true(problem, point)
        assert_nothing_needless(problem, point)
    for lower, upper in list(itertools.pairwise(points))[:: len(points) // 5]:
        other = OtherSolver(problem)
        rise, run = round(upper.points - lower.points), round(upper.price - lower.price)
        most = other.most(run * other.points - rise * other.price)
        assert most == run * lower.points - rise * lower.price


def test_the_published_opencast_mine() -> None:
    mine = reference("closure_opencast_gueret")
    weights = {str(row["block"]): row["weight"] for row in mine["rows"]}
    problem = Problem(
        prices={block: max(0, -weight) for block, weight in weights.items()},
        pulls={str(row["block"]): each_of(*map(str, row["requires"])) for row in mine["rows"]},
        gains={b: Gain(weight, each_of(b)) for b, weight in weights.items() if weight > 0},
    )
    selection = max(efficient_frontier(problem), key=lambda s: s.points - s.price)
    assert selection.points - selection.price == mine["optimum"]
    assert selection.steps == set(map(str, mine["optimal_set"]))
