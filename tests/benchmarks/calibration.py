"""How often verdicts come true, as against how sure they are, in the ways people really look.

Instruments are drawn from the declared knowledge, and each is glanced at once: the same number of
answers, but chosen in different ways. The calculation takes the answers for chosen without
knowing them, and parts for as alike as the profile says; where that is not so, it is too sure.
"""

from __future__ import annotations

import itertools
import statistics
import sys
from collections.abc import Callable, Iterator
from random import Random

import numpy as np
from looks import Case, known, owners, questions

import assess
from assess.decision.rules import Setting
from assess.decision.scenario_verdicts import VERDICT_NAMES, chances_of, verdict_indices
from assess.grading.grades import Graded
from assess.grading.judgements import Judgement
from assess.job.job_reading import parse
from assess.job.workshop_profile import Workshop, load_workshop
from assess.uncertainty.bayes_network import beliefs
from assess.uncertainty.monte_carlo import sample
from assess.uncertainty.scenario_costs import simulate_scenarios

SEED = 11
LIKELIER = 3.0
"""How many times likelier a fault is to be looked at than what is sound, where faults show."""
BOUNDS = (0.0, 0.6, 0.7, 0.8, 0.9, 0.97, 1.01)

Order = Callable[[list[Judgement], Case, Random], list[Judgement]]


def any_first(asked: list[Judgement], _: Case, random: Random) -> list[Judgement]:
    """No matter which."""
    return random.sample(asked, len(asked))


def faults_first(asked: list[Judgement], drawn: Case, random: Random) -> list[Judgement]:
    """What is at fault is so many times likelier to be looked at."""

    def late(judgement: Judgement) -> float:
        fault = drawn.truth[judgement.id].best.condition > 0
        return random.expovariate(LIKELIER if fault else 1.0)

    return sorted(asked, key=late)


def easiest_first(asked: list[Judgement], drawn: Case, random: Random) -> list[Judgement]:
    """What needs nothing opened, then what is behind one panel, and so on."""
    places = drawn.blank.knowledge.places

    def effort(judgement: Judgement) -> tuple[int, float]:
        deep, place = 0, judgement.criterion.place
        while place:
            deep, place = deep + 1, places[place].inside
        return deep, random.random()

    return sorted(asked, key=effort)


def one_part_first(asked: list[Judgement], _: Case, random: Random) -> list[Judgement]:
    """One subsystem after the other, in any order: who knows bellows looks at bellows."""
    subsystems = sorted({j.id.partition(".")[0] for j in asked})
    random.shuffle(subsystems)
    return sorted(asked, key=lambda j: (subsystems.index(j.id.partition(".")[0]), random.random()))


WAYS: dict[str, tuple[Order, float | None]] = {
    "no matter which": (any_first, None),
    "faults first": (faults_first, None),
    "easiest first": (easiest_first, None),
    "one part first": (one_part_first, None),
    "parts more alike than believed": (any_first, 0.9),
    "parts less alike than believed": (any_first, 0.5),
}
"""How is looked, and how alike the parts are in truth where that is not as believed."""


def glance(drawn: Case, order: Order, random: Random, workshop: Workshop) -> tuple[float, bool]:
    """How sure the verdict is after some answers, and whether it is right."""
    blank = drawn.blank
    asked = order(questions(drawn), drawn, random)
    looked = asked[: round(len(asked) * random.random() ** 2)]
    judgements = blank.graded.judgements | {j.id: drawn.truth[j.id] for j in looked}
    graded = Graded(judgements, {}, blank.graded.instrument)
    believed = beliefs(graded, blank.knowledge, workshop.care)
    found = sample(graded, blank.knowledge, believed)
    costs = simulate_scenarios(blank.plan_arrays, graded, workshop, found.unseen, found.outcomes)
    codes = verdict_indices(costs, Setting(drawn.owner, workshop))
    name, probability = next(iter(dict(chances_of(codes)).items()))
    return probability, name == drawn.verdict


def drawn_cases(count: int, persistence: float | None, random: Random) -> Iterator[Case]:
    """Instruments of nothing known, with owners of all kinds."""
    shop = load_workshop(trade=assess.knowledge_in_use().trade)
    if persistence is not None:
        care = shop.care.model_copy(update={"state_persistence": persistence})
        shop = shop.model_copy(update={"care": care})
    trade = assess.knowledge_in_use().trade
    blank = assess.assess(parse("format = 1\n", trade=trade), workshop=shop)
    found = sample(blank.graded, blank.knowledge, blank.beliefs, count)
    counts, unseen = blank.plan_arrays.counts, found.unseen
    whole = simulate_scenarios(blank.plan_arrays, blank.graded, shop, unseen, found.outcomes)
    for column in range(count):
        owner = owners(random)
        decided = int(verdict_indices(whole, Setting(owner, shop))[column])
        places = found.outcomes[:, column]
        truth = {
            j.id: known(j, int(place), counts) for j, place in zip(unseen, places, strict=True)
        }
        yield Case(blank, owner, truth, VERDICT_NAMES[decided])


def table(count: int) -> Iterator[str]:
    """A line for each way of looking: given and come true, in classes of what was given."""
    heads = [f"{low:.0%} on" for low in BOUNDS[:-1]]
    yield f"{'':32}{'all':>18}" + "".join(f"{head:>16}" for head in heads)
    shop = load_workshop(trade=assess.knowledge_in_use().trade)
    for name, (order, persistence) in WAYS.items():
        random = Random(SEED)
        found = [
            glance(drawn, order, random, shop) for drawn in drawn_cases(count, persistence, random)
        ]
        cells = [_cell(found)]
        for low, high in itertools.pairwise(BOUNDS):
            cells.append(_cell([f for f in found if low <= f[0] < high]))
        yield f"{name:32}{cells[0]:>18}" + "".join(f"{cell:>16}" for cell in cells[1:])


def _cell(found: list[tuple[float, bool]]) -> str:
    if not found:
        return "-"
    given, came = (statistics.fmean(column) for column in zip(*found, strict=True))
    error = 100 * np.sqrt(came * (1 - came) / len(found))
    return f"{given:.0%} {came:.0%} ±{error:.0f}"


def main() -> None:
    """Draw, glance and print."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    print(f"{count} instruments in each way: given, come true, standard error in points")
    for line in table(count):
        print(line, flush=True)


if __name__ == "__main__":
    main()
