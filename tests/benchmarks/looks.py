"""How soon the verdict is settled, by order of looking; run it by hand, never as a test.

Scenarios are drawn from the declared knowledge and from the beliefs of the workshop profile;
each is inspected in our order, part by part, and at random, until the verdict is settled or
more looking in a home is not worth it. It prints how many questions and minutes that took,
and how often the verdict is the one with everything seen. Other instruments, of which some
answers are seen at random, show whether verdicts come true as often as they say. The fixtures
are inspected in the same way, with what they leave open drawn once. Two arguments say how many
to inspect, and how many to glance at.
"""

from __future__ import annotations

import itertools
import statistics
import sys
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from random import Random

import numpy as np

import assess
from assess.decision.rules import Setting
from assess.decision.scenario_verdicts import VERDICT_NAMES, chances_of, verdict_indices
from assess.grading.grades import Graded
from assess.grading.judgements import Judgement, State
from assess.inspection.question_places import is_danger, places_to, seen_at_visit
from assess.inspection.value_of_information import value_unseen
from assess.job.configuration import Configuration
from assess.job.job_file import Owner
from assess.job.job_reading import parse
from assess.knowledge.knowledge_base import Knowledge
from assess.knowledge.steps import subsystem_of
from assess.uncertainty.bayes_network import beliefs
from assess.uncertainty.monte_carlo import sample
from assess.uncertainty.scenario_costs import simulate_scenarios

ROOT = Path(__file__).parents[2]
STRIDE = 4
"""In a fixed order, the verdict is looked at after every so many answers."""
SEED = 7
MOST_DRAWN = 4096


@dataclass(frozen=True)
class Case:
    """An instrument wholly known, as a home allows to see it."""

    blank: assess.Assessment
    owner: Owner
    truth: dict[str, Judgement]
    verdict: str


@dataclass(frozen=True)
class Visit:
    """One inspection: until when, whether settled, on what, and whether that was right."""

    questions: int
    minutes: float
    settled: bool
    probability: float
    right: bool


def owners(random: Random) -> Owner:
    """An owner with some wish, some limit, some attachment."""
    return Owner(
        wish=random.choice(["full", "working", "working", None]),
        ceiling=random.choice([None, 800, 1500, 2500, 4000, 6000, 9000, 14000]),
        attachment=random.choice([0, 1, 2, 3]),
        significance=random.choice([0, 0, 0, 1, 2]),
        worth=random.choice([None, None, 200, 600]),
    )


def known(judgement: Judgement, outcome: int, numbers: dict[str, tuple[float, ...]]) -> Judgement:
    """A judgement with its outcome seen."""
    found = judgement.criterion.outcomes[outcome]
    value = numbers[judgement.id][outcome] if judgement.criterion.measured else None
    return replace(judgement, state=State.SEEN, best=found, worst=found, value=value)


def case(blank: assess.Assessment, owner: Owner, column: int) -> Case:
    """What a blank or half-seen job turns out to be in one draw."""
    graded, knowledge, workshop = blank.graded, blank.knowledge, blank.workshop
    found = sample(graded, knowledge, blank.beliefs, MOST_DRAWN)
    unseen, outcomes = found.unseen, found.outcomes
    plan = blank.plan_arrays
    truth = {
        j.id: known(j, int(row[column]), plan.counts)
        for j, row in zip(unseen, outcomes, strict=True)
    }
    whole = simulate_scenarios(plan, graded, workshop, unseen, outcomes[:, column : column + 1])
    truth |= {j.id: j for j in graded.judgements.values() if j.is_seen}
    (decided,) = verdict_indices(whole, Setting(owner, workshop))
    return Case(blank, owner, truth, VERDICT_NAMES[int(decided)])


def dangers_first(judgements: Iterable[Judgement]) -> list[Judgement]:
    """Those that ask for dangers to people, which are asked before anything is touched."""
    return [j for j in judgements if is_danger(j)]


def inspection_sequence(
    graded: Graded, knowledge: Knowledge, configuration: Configuration
) -> list[Judgement]:
    """Every criterion that applies, part by part, what needs no opening first.

    Dangers to people are asked about before anything is touched.
    """

    def rank(judgement: Judgement) -> tuple[bool, int, int, str, str]:
        criterion = judgement.criterion
        position = knowledge.subsystems[subsystem_of(criterion.id)].position
        return (
            not is_danger(judgement),
            len(places_to(judgement.criterion, knowledge, configuration)),
            position,
            criterion.place or "",
            criterion.component,
        )

    applying = [
        j
        for j in graded.judgements.values()
        if j.state is not State.NOT_PRESENT and not j.criterion.computed_from
    ]
    return sorted(applying, key=rank)


def minutes(judgements: Iterable[Judgement], knowledge: Knowledge) -> float:
    """Minutes to look at these criteria, each place opened once."""
    listed = list(judgements)
    places: set[str] = set()
    for judgement in listed:
        for innermost in judgement.criterion.places:
            place: str | None = innermost
            while place and place not in places:
                places.add(place)
                place = knowledge.places[place].inside
    opening = sum(knowledge.places[p].minutes for p in places)
    return opening + sum(j.criterion.minutes for j in listed)


def questions(case: Case) -> list[Judgement]:
    """What a home allows to ask, part by part."""
    blank = case.blank
    return [
        replace(j, state=State.NO_ANSWER)
        for j in inspection_sequence(blank.graded, blank.knowledge, blank.configuration)
        if j.id in case.truth and seen_at_visit(j, blank.knowledge, blank.configuration)
    ]


class Inspection:
    """One inspection under way."""

    def __init__(self, case: Case) -> None:
        self.case = case
        self.waiting = {j.id: j for j in questions(case)}
        start = {
            j.id: replace(j, state=State.NO_ANSWER) if j.counts else j
            for j in case.blank.graded.judgements.values()
        }
        self.graded = Graded(start, {}, case.blank.graded.instrument)
        self.asked: list[Judgement] = []
        self.chances: dict[str, float] = {}
        self.surer = 1.0

    def answer(self, criterion: str) -> None:
        judgement = self.waiting.pop(criterion)
        self.graded.judgements[criterion] = self.case.truth[criterion]
        self.asked.append(judgement)

    def weigh(self, next_look: bool = False) -> str | None:
        """Work the chances out again; and what to look at next, if that is wanted."""
        blank = self.case.blank
        plan = blank.plan_arrays
        believed = beliefs(self.graded, blank.knowledge, blank.workshop.care)
        found = sample(self.graded, blank.knowledge, believed)
        drawn = simulate_scenarios(plan, self.graded, blank.workshop, found.unseen, found.outcomes)
        codes = verdict_indices(drawn, Setting(self.case.owner, blank.workshop))
        self.chances = dict(chances_of(codes))
        if self.settled():
            return None
        value = value_unseen(blank.context, self.graded, believed, plan, drawn, codes)
        self.surer = value.expected_accuracy_gain()
        if not next_look or self.over():
            return None
        found = value.looks(1)
        return found[0].criterion if found else None

    def settled(self) -> bool:
        doubt = self.case.blank.workshop.settled_doubt
        return 1 - next(iter(self.chances.values())) <= doubt

    def over(self) -> bool:
        """Whether the verdict is settled, or a home does not allow to settle it further."""
        return self.settled() or self.surer <= self.case.blank.workshop.worth_looking

    def done(self) -> Visit:
        name, probability = next(iter(self.chances.items()))
        took = minutes(self.asked, self.case.blank.knowledge)
        right = name == self.case.verdict
        return Visit(len(self.asked), took, self.settled(), probability, right)


def our_order(case: Case) -> Visit:
    """Dangers first, then the next look after every answer."""
    visit = Inspection(case)
    for judgement in dangers_first(list(visit.waiting.values())):
        visit.answer(judgement.id)
    while look := visit.weigh(next_look=True):
        visit.answer(look)
    return visit.done()


def fixed_order(case: Case, order: list[str]) -> Visit:
    """An order that answers do not change."""
    visit = Inspection(case)
    visit.weigh()
    for number, criterion in enumerate(order, 1):
        if visit.over():
            break
        visit.answer(criterion)
        if number % STRIDE == 0 or number == len(order):
            visit.weigh()
    return visit.done()


def part_by_part(case: Case) -> Visit:
    """The order of the paper form."""
    return fixed_order(case, [j.id for j in questions(case)])


def at_random(case: Case) -> Visit:
    """Any order."""
    order = [j.id for j in questions(case)]
    Random(SEED).shuffle(order)
    return fixed_order(case, order)


def at_a_glance(case: Case, random: Random) -> Visit:
    """Some answers, no matter which, and the verdict as it then stands."""
    visit = Inspection(case)
    part = random.random() ** 2
    for judgement in questions(case):
        if random.random() < part:
            visit.answer(judgement.id)
    visit.weigh()
    return visit.done()


ORDERS: dict[str, Callable[[Case], Visit]] = {
    "our order": our_order,
    "part by part": part_by_part,
    "at random": at_random,
}


def drawn_cases(count: int, random: Random) -> Iterator[Case]:
    """Scenarios of several kinds, with owners of several kinds."""
    kinds = [
        "",
        "[instrument.facts]\nranks = 3\n",
        "[instrument.features]\nsecond_manual = true\n",
    ]
    trade = assess.knowledge_in_use().trade
    blanks = [assess.assess(parse(f"format = 1\n{kind}", trade=trade)) for kind in kinds]
    for number in range(count):
        yield case(blanks[number % len(blanks)], owners(random), random.randrange(MOST_DRAWN))


def fixture_cases() -> Iterator[tuple[str, Case]]:
    """The fixtures, with what they leave open drawn once."""
    for file in sorted((ROOT / "fixtures").glob("*.toml")):
        blank = assess.assess(assess.load(file))
        yield file.stem, case(blank, blank.job.owner, 0)


def table_row(name: str, visits: list[Visit]) -> str:
    """A line of the table."""
    if not visits:
        return f"{name:14} nothing to inspect"
    asked = statistics.median(v.questions for v in visits)
    took = statistics.median(v.minutes for v in visits)
    mean = statistics.fmean(v.minutes for v in visits)
    settled = [v for v in visits if v.settled]
    right = statistics.fmean(v.right for v in visits)
    return (
        f"{name:14} {asked:9.0f} {took:9.1f} {mean:9.1f} {len(settled) / len(visits):9.0%} "
        f"{right:9.0%}"
    )


def calibration(visits: list[Visit]) -> Iterator[str]:
    """Of verdicts given with some probability, the share that came true; one each instrument."""
    bounds = (0.0, 0.5, 0.6, 0.7, 0.8, 0.9, 0.97, 1.01)
    for low, high in itertools.pairwise(bounds):
        some = [v for v in visits if low <= v.probability < high]
        if some:
            given = statistics.fmean(v.probability for v in some)
            came = statistics.fmean(v.right for v in some)
            error = np.sqrt(came * (1 - came) / len(some))
            yield f"given {given:5.0%}   came true {came:5.0%} +- {error:3.0%}   ({len(some)})"


def main() -> None:
    """Inspect and print."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 300
    glances = int(sys.argv[2]) if len(sys.argv) > 2 else 2000
    random = Random(SEED)
    every: list[dict[str, Visit]] = [
        {name: order(drawn) for name, order in ORDERS.items()}
        for drawn in drawn_cases(count, random)
    ]
    still_open = [made for made in every if made["part by part"].questions > 0]
    print(f"{count} drawn instruments, {len(still_open)} of them open before anything is asked")
    print(
        f"{'order':14} {'questions':>9} {'minutes':>9} {'mean min':>9} {'settled':>9} {'right':>9}"
    )
    for name in ORDERS:
        print(table_row(name, [made[name] for made in still_open]))
    print(f"at the end of our order, and for {glances} others glanced at:")
    for visits in (
        [made["our order"] for made in every],
        [at_a_glance(drawn, random) for drawn in drawn_cases(glances, random)],
    ):
        print(*calibration(visits), sep="\n", end="\n\n")
    print("fixtures: questions and minutes until settled, in each order")
    for name, drawn in fixture_cases():
        cells = [
            f"{v.questions:4} {v.minutes:5.1f} {'' if v.settled else 'not settled'}"
            for v in (order(drawn) for order in ORDERS.values())
        ]
        print(f"{name:20} {' | '.join(cells)}")


if __name__ == "__main__":
    main()
