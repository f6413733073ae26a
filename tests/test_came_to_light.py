"""Real instruments from public reports: was what was found later on the list of hidden faults?

The answers found only after opening are taken away; what was seen at first look is assessed
again, and each thing found later is looked up on the list of what may be hidden. What was
found, and which criterion answers to it, stands in ``references/came_to_light.toml``. Run as a
program, this prints where everything stood, and how other orders of the list would have done.

That found things stand higher than in random order, each counted alike, is not asserted: it has
not been shown. The list is in the order of money, and puts the money that was found near its top.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from references import reference
from scipy.stats import rankdata
from tabulate import tabulate
from test_cases import FILES, FOUND_LATER

import assess
from assess.inspection.hidden_defects import Hidden
from assess.output.looks import MOST_HIDDEN

REPORTED: dict[str, dict[str, Any]] = {
    case["job"]: case for case in reference("came_to_light")["case"]
}
THINGS = [(job, thing) for job, case in REPORTED.items() for thing in case["things"]]

FEWEST_LISTED = 1.0
"""Share of what was found, and calls for work, that must stand on the list."""
HIGHEST_MEDIAN = 0.5
"""How far down its list the middle one may stand: 0 is the top, 1 the end."""
FIRST = (10, 25, 50)
"""How far down a reader may read."""
TRIALS = 10_000
"""Lists in random order that an order is compared with."""
SIGNIFICANCE = 0.05
"""Not due to chance: fewer lists in random order than this do as well."""

Floats = NDArray[np.float64]
Order = Callable[[Sequence[Hidden]], Sequence[float]]
"""For each line of a list, the number under which it stands."""


@dataclass(frozen=True)
class Sighting:
    """One thing found later, as one criterion has it, and where that stood at first look.

    Attributes:
        line: its line on the list, when it stands there. of: how many lines there are.
        place: where it is seen from.
        adds: what the outcome that was found adds to the cost of full restoration.
    """

    job: str
    found: str
    criterion: str
    outcome: str
    place: str | None
    line: int | None
    of: int
    chance: float
    adds: float


# What was known at first look


def late_answers(job: str) -> set[str]:
    """The criteria whose answers were found after opening, as the job file notes."""
    return {
        f"{subsystem}.{criterion}"
        for subsystem, table in assess.load(FILES[job]).answers.items()
        for criterion, answer in table.items()
        if FOUND_LATER in answer.note
    }


def held(job: str) -> dict[str, str]:
    """Criterion -> outcome found later, of one case."""
    return {c: o for thing in REPORTED[job]["things"] for c, o in thing.get("holds", {}).items()}


@cache
def at_first_look(job: str) -> assess.Assessment:
    """The assessment of what was seen before anything was opened."""
    case = REPORTED[job]
    job_file = assess.load(FILES[job])
    seen = job_file.model_dump()
    for criterion in late_answers(job) | held(job).keys() | case.get("untold", {}).keys():
        subsystem, _, name = criterion.partition(".")
        seen["answers"].get(subsystem, {}).pop(name, None)
    for kind in ("features", "facts"):
        for name in case.get(kind, []):
            del seen["instrument"][kind][name]
    return assess.assess(assess.Job.model_validate(seen))


@cache
def listed(job: str) -> tuple[Hidden, ...]:
    """What may be hidden in full restoration, as seen from the first look."""
    return at_first_look(job).hidden("full")


def applies(job: str, criterion: str) -> bool:
    return at_first_look(job).graded.judgements[criterion].counts


def calls_for_work(criterion: str, outcome: str) -> bool:
    outcomes = assess.knowledge_in_use().criteria[criterion].outcomes
    return any(o.label == outcome and o.calls_for for o in outcomes)


def adds(job: str, criterion: str, outcome: str) -> float:
    """What an outcome of something unseen adds to the cost of full restoration."""
    value = at_first_look(job).information_value
    row = next(r for r, j in enumerate(value.scenarios.unseen) if j.id == criterion)
    outcomes = assess.knowledge_in_use().criteria[criterion].outcomes
    found = next(place for place, o in enumerate(outcomes) if o.label == outcome)
    return float(value.effects["full"][row].cost[found])


@cache
def sightings() -> tuple[Sighting, ...]:
    """Everything found later that has a criterion which applies and calls for work."""
    return tuple(
        sighting(job, thing["found"], criterion, outcome)
        for job, thing in THINGS
        for criterion, outcome in thing.get("holds", {}).items()
        if applies(job, criterion) and calls_for_work(criterion, outcome)
    )


def sighting(job: str, found: str, criterion: str, outcome: str) -> Sighting:
    lines = listed(job)
    line = next((n for n, h in enumerate(lines, 1) if h.criterion == criterion), None)
    place = assess.knowledge_in_use().criteria[criterion].place
    chance = lines[line - 1].chance if line else 0.0
    money = adds(job, criterion, outcome)
    return Sighting(job, found, criterion, outcome, place, line, len(lines), chance, money)


# Orders of a list


def as_listed(lines: Sequence[Hidden]) -> Sequence[float]:
    """By what it adds to the cost on average, as the list has it."""
    return range(1, len(lines) + 1)


def by_chance(lines: Sequence[Hidden]) -> Sequence[float]:
    return _numbers(-h.chance for h in lines)


def by_cost(lines: Sequence[Hidden]) -> Sequence[float]:
    return _numbers(-h.cost for h in lines)


def by_place(lines: Sequence[Hidden]) -> Sequence[float]:
    """That place first whose lines together add most."""
    worth: dict[str | None, float] = {}
    for h in lines:
        worth[_seen_from(h)] = worth.get(_seen_from(h), 0.0) + h.expected_cost
    places = sorted(worth, key=lambda place: -worth[place])
    order = sorted(range(len(lines)), key=lambda n: (places.index(_seen_from(lines[n])), n))
    return [order.index(n) + 1 for n in range(len(lines))]


def as_printed(lines: Sequence[Hidden]) -> Sequence[float]:
    """The first lines by place, as they are printed; the others as they are listed."""
    return [*by_place(lines[:MOST_HIDDEN]), *as_listed(lines)[MOST_HIDDEN:]]


def _seen_from(line: Hidden) -> str | None:
    return line.opens[-1] if line.opens else None


def _numbers(values: Iterable[float]) -> Sequence[float]:
    """Numbers from 1; those that are alike share the middle of theirs."""
    return [float(number) for number in rankdata(np.round(list(values), 9))]


ORDERS: dict[str, Order] = {
    "chance x cost, as listed": as_listed,
    "the same, by place as printed": as_printed,
    "all of it by place": by_place,
    "chance alone": by_chance,
    "cost alone": by_cost,
}


# How high it stood


def numbers(order: Order) -> list[float]:
    """Under which number each sighting stands; beyond the end where it is not listed."""
    ordered = {job: order(listed(job)) for job in REPORTED}
    return [ordered[s.job][s.line - 1] if s.line else s.of + 0.5 for s in sightings()]


def depths(order: Order = as_listed) -> Floats:
    """How far down its list each sighting stands: 0 top, 1 end; random order gives 1/2."""
    return np.array([(n - 0.5) / s.of for n, s in zip(numbers(order), sightings(), strict=True)])


def among_first(most: int, order: Order = as_listed) -> int:
    """How many sightings stand among the first lines."""
    return sum(1 for n in numbers(order) if n <= most)


def alike() -> Floats:
    """Each thing found counts alike, however many criteria answer to it."""
    return _weights({(s.job, s.found): 1.0 for s in sightings()}, [1.0] * len(sightings()))


def by_money() -> Floats:
    """Each thing found counts by what it adds: that of its costliest sighting."""
    most: dict[tuple[str, str], float] = {}
    for s in sightings():
        most[s.job, s.found] = max(s.adds, most.get((s.job, s.found), 0.0))
    return _weights(most, [s.adds for s in sightings()])


def _weights(things: Mapping[tuple[str, str], float], shares: Sequence[float]) -> Floats:
    """Weights of the sightings, one in all: what each thing counts, shared among its own."""
    sums = dict.fromkeys(things, 0.0)
    for s, share in zip(sightings(), shares, strict=True):
        sums[s.job, s.found] += share
    counted = [
        things[s.job, s.found] * share / sums[s.job, s.found]
        for s, share in zip(sightings(), shares, strict=True)
    ]
    return np.array(counted) / sum(counted)


def as_high_in_random_order(weights: Floats, order: Order = as_listed) -> float:
    """Share of lists in random order on which what was found stands as high, so weighted."""
    random = np.random.default_rng(1890)
    depth = np.zeros(TRIALS)
    for job in REPORTED:
        own = [n for n, s in enumerate(sightings()) if s.job == job]
        shuffled = random.random((TRIALS, len(listed(job)))).argsort(axis=1)[:, : len(own)]
        depth += ((shuffled + 0.5) / len(listed(job))) @ weights[own]
    return float((depth <= depths(order) @ weights).mean())


# The table itself


def test_every_case_of_which_something_was_found_later_has_its_table() -> None:
    assert len(REPORTED) >= 10
    assert set(REPORTED) == {job for job in FILES if late_answers(job)}
    assert len(REPORTED) == len(reference("came_to_light")["case"])


@pytest.mark.parametrize("job", REPORTED)
def test_every_answer_found_later_stands_in_the_table(job: str) -> None:
    unreported = REPORTED[job].get("untold", {})
    assert all(unreported.values())
    assert not held(job).keys() & unreported.keys()
    assert late_answers(job) - held(job).keys() - unreported.keys() == set()


@pytest.mark.parametrize(("job", "thing"), THINGS)
def test_a_criterion_holds_what_was_found_or_it_is_said_why_none_can(
    job: str, thing: dict[str, Any]
) -> None:
    assert thing["found"]
    assert bool(thing.get("holds") or thing.get("kind")) != bool(thing.get("none"))
    criteria = assess.knowledge_in_use().criteria
    for criterion, outcome in thing.get("holds", {}).items():
        assert outcome in [o.label for o in criteria[criterion].outcomes]


def test_criteria_hold_most_of_what_was_found() -> None:
    assert sum(bool(thing.get("holds")) for _, thing in THINGS) > len(THINGS) / 2
    assert sum("kind" in thing for _, thing in THINGS) >= 3


@pytest.mark.parametrize("job", REPORTED)
def test_the_table_and_the_job_file_say_the_same(job: str) -> None:
    judged = assess.assess(assess.load(FILES[job])).graded.judgements
    answered = {c: o for c, o in held(job).items() if judged[c].is_seen}
    assert {c: judged[c].outcome.label for c in answered} == answered
    assert answered or not held(job)


@pytest.mark.parametrize("job", REPORTED)
def test_the_sources_are_those_of_the_job_file(job: str) -> None:
    head = FILES[job].read_text(encoding="utf-8").partition("format = 1")[0]
    assert REPORTED[job]["source"]
    for source in REPORTED[job]["source"]:
        assert source.split(", ")[-1] in head


@pytest.mark.parametrize("job", REPORTED)
def test_nothing_found_later_is_known_at_first_look(job: str) -> None:
    look = at_first_look(job)
    assert look.warnings == ()
    seen = {j.id for j in look.graded.judgements.values() if j.is_seen}
    assert not seen & (held(job).keys() | late_answers(job))


# What was found later


def test_what_was_found_later_was_on_the_list() -> None:
    """Little by itself, where so little was seen: most of what is unseen is on the list."""
    assert len(sightings()) > 20
    unlisted = [f"{s.job}: {s.found} ({s.criterion})" for s in sightings() if s.line is None]
    share = 1 - len(unlisted) / len(sightings())
    assert share >= FEWEST_LISTED, "\n".join(unlisted)


@pytest.mark.parametrize(("job", "kind"), [(j, t["kind"]) for j, t in THINGS if "kind" in t])
def test_a_kind_of_build_that_was_found_later_was_on_the_list(job: str, kind: str) -> None:
    (line,) = [h for h in listed(job) if h.feature == kind]
    assert line.otherwise is assess.load(FILES[job]).instrument.features[kind]
    assert line.chance == assess.knowledge_in_use().features[kind].chance
    assert line.cost > 0


def test_half_of_what_was_found_later_stood_in_the_upper_half() -> None:
    assert np.median(depths()) <= HIGHEST_MEDIAN


def test_the_money_of_what_was_found_later_stood_higher_than_in_random_order() -> None:
    """What the order is made for, though cost alone would do as well."""
    assert depths() @ by_money() < 0.5
    assert as_high_in_random_order(by_money()) < SIGNIFICANCE


def test_a_reversed_list_would_be_worse_than_random_order() -> None:
    """The comparison can fail."""
    upside_down = as_high_in_random_order(by_money(), lambda lines: as_listed(lines)[::-1])
    assert upside_down > 1 - SIGNIFICANCE


# The tables in print


def sightings_table() -> str:
    """Where everything stood that was found later and calls for work."""
    places = assess.knowledge_in_use().places
    rows = [
        [
            s.job.replace("_", " "),
            s.found,
            s.criterion,
            f"{s.line or '-'}/{s.of}",
            f"{s.chance:.0%}",
            f"{s.adds:,.0f}",
            places[s.place].title if s.place else "without opening",
        ]
        for s in sightings()
    ]
    heads = ["case", "found later", "criterion", "line", "chance", "adds", "seen from"]
    return str(tabulate(rows, heads, tablefmt="github", disable_numparse=True))


def orders_table() -> str:
    """How high what was found stands in each order, and in random order."""
    rows: list[list[str]] = []
    for name, order in ORDERS.items():
        deep = depths(order)
        row = [name, f"{deep.mean():.2f}", f"{np.median(deep):.2f}"]
        row += [str(among_first(most, order)) for most in FIRST]
        for weights in (alike(), by_money()):
            row.append(f"{deep @ weights:.2f} ({as_high_in_random_order(weights, order):.4f})")
        rows.append(row)
    at_random = [f"{sum(min(1.0, most / s.of) for s in sightings()):.1f}" for most in FIRST]
    rows.append(["random", "0.50", "0.50", *at_random, "0.50", "0.50"])
    firsts = [f"first {most}" for most in FIRST]
    heads = ["order", "mean depth", "median", *firsts, "things alike (p)", "by money (p)"]
    return str(tabulate(rows, heads, tablefmt="github", disable_numparse=True))


def beyond_the_list() -> str:
    """What no criterion holds, what it holds and falls short of, and what calls for no work."""
    lines = []
    for job, thing in THINGS:
        needless = [
            f"{criterion}: {outcome}"
            for criterion, outcome in thing.get("holds", {}).items()
            if not calls_for_work(criterion, outcome)
        ]
        said = [thing.get("none", ""), thing.get("short", "")]
        said += [f"calls for no work ({'; '.join(needless)})"] if needless else []
        if any(said):
            lines.append(f"- {job}: {thing['found']}: {'; '.join(filter(None, said))}")
    return "\n".join(lines)


if __name__ == "__main__":
    print(sightings_table(), orders_table(), beyond_the_list(), sep="\n\n")
