"""An hour in a home, in three orders; run it by hand, never as a test.

Instruments are drawn from the declared knowledge and from the beliefs of the workshop profile,
with owners of all kinds; fixtures and cases are inspected as well, with their answers taken away
and what they leave open drawn once. Every question is answered truthfully. The orders are the
walk of a visit with an hour agreed, part by part, and what tells most in a minute; in the first
and the last, what comes next is worked out after every answer. It prints how many questions and
minutes each takes, how often it changes place, when the hold test and the silent notes come,
and how often the verdict after the hour is the one that everything visible in the home gives.
All are counts and minutes as declared, so the machine does not matter.

In every order an opened place stays open for the count of minutes, and questions that need a
tool which is not in every bag are left out.
"""

from __future__ import annotations

import argparse
import statistics
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from random import Random

import numpy as np
from looks import MOST_DRAWN, SEED, dangers_first, inspection_sequence, owners

import assess
from assess.grading.judgements import Judgement, State
from assess.inspection.question_places import ANSWERING_MIN, places_to
from assess.inspection.visit_stops import BEFORE_OPENING, VisitMeans, stop_here
from assess.inspection.visit_walk import Walk
from assess.job.job_file import NOT_APPLICABLE, Answer, Job
from assess.job.job_reading import parse
from assess.knowledge.criteria import Criterion
from assess.uncertainty.monte_carlo import sample

ROOT = Path(__file__).parents[2]
HOUR = 60.0
STRIDE = 20
"""After the hour, what tells most is worked out after every so many answers only."""
HOLD = ("pneumatics.whole_hold", "pneumatics.whole_fall")
SILENT = ("action.dead_keys", "reeds.dead_reeds")
KINDS = (
    "",
    "[instrument.facts]\nranks = 3\n",
    "[instrument.features]\nsecond_manual = true\n",
    '[instrument.features]\nwind = "pressure"\n',
    '[instrument.features]\nfolds_up = true\ncase_build = "folding"\n',
)
RESAMPLES = 400


@dataclass(frozen=True)
class Instrument:
    """An instrument of which nothing has been seen yet, and what would be answered.

    Attributes:
        blank: the job without answers.
        answers: full criterion id to the true answer.
        sequence: every question that may come up, part by part, dangers first.
    """

    blank: Job
    answers: dict[str, str | float]
    sequence: tuple[str, ...]


@dataclass(frozen=True)
class Visit:
    """What one visit came to.

    Attributes:
        questions, minutes: of the whole visit.
        moves: changes of place.
        openings: how often a place was gone to that must be opened.
        reopened: how often one of these had been gone to before.
        hold, silent: minutes until the hold test, and until silent notes; None if never asked.
        verdict, sure: after the hour, and its probability.
        right: whether everything visible gives the same.
        guessed: whether it was right with nothing seen.
        open: whether it was not settled with nothing seen.
    """

    questions: int
    minutes: float
    moves: int
    openings: int
    reopened: int
    hold: float | None
    silent: float | None
    verdict: str
    sure: float
    right: bool
    guessed: bool
    open: bool


def in_words(judgement: Judgement, number: float | None) -> str | float:
    """What a person would write for what is there."""
    criterion = judgement.criterion
    if number is None:
        return judgement.best.label
    low, high = criterion.possible
    number = min(max(number, low), high)
    return int(number) if criterion.unit == "count" else f"{number:.6g} {criterion.unit}"


def instrument(job: Job, column: int) -> Instrument:
    """What a job turns out to be in one draw of what it leaves open, with its answers hidden."""
    known = assess.assess(job)
    found = sample(known.graded, known.knowledge, known.beliefs, MOST_DRAWN)
    counts = known.plan_arrays.counts
    answers: dict[str, str | float] = {}
    for judgement, row in zip(found.unseen, found.outcomes, strict=True):
        place, criterion = int(row[column]), judgement.criterion
        if criterion.measured:
            answers[judgement.id] = in_words(judgement, counts[judgement.id][place])
        else:
            answers[judgement.id] = criterion.outcomes[place].label
    for judgement in known.graded.judgements.values():
        if judgement.state in (State.SEEN, State.SAID_ALREADY):
            answers[judgement.id] = in_words(judgement, judgement.value)
        if judgement.state is State.DOES_NOT_APPLY:
            answers[judgement.id] = NOT_APPLICABLE
    blank = job.model_copy(update={"answers": {}, "surveys": {}, "text": ""})
    start = assess.assess(blank)
    sequence = inspection_sequence(start.graded, start.knowledge, start.configuration)
    return Instrument(blank, answers, tuple(j.id for j in sequence))


class Inspection:
    """One visit under way."""

    def __init__(self, found: Instrument) -> None:
        self.found = found
        self.asked: list[str] = []
        self.minutes = 0.0
        self.opened: set[str] = set()
        self.stops: list[str] = []
        self.when: dict[str, float] = {}
        self.after_hour: assess.Assessment | None = None
        self.result = self.assessed(())

    @property
    def criteria(self) -> Mapping[str, Criterion]:
        """Everything that is judged."""
        return self.result.knowledge.criteria

    def assessed(self, asked: Sequence[str]) -> assess.Assessment:
        """The assessment with these questions answered."""
        answers: dict[str, dict[str, Answer]] = {}
        for question in asked:
            subsystem, _, name = question.partition(".")
            given = self.found.answers.get(question, NOT_APPLICABLE)
            answers.setdefault(subsystem, {})[name] = Answer(answer=given)
        return assess.assess(self.found.blank.model_copy(update={"answers": answers}))

    def walk(self, minutes: float | None = None) -> Walk:
        """The rest of the visit from where it stands."""
        been = tuple(self.stops)
        means = VisitMeans(minutes=minutes, opened=frozenset(self.opened), been=been)
        return self.result.walk(means)

    def take(self, question: str) -> None:
        """Go to a question and answer it, without working anything out yet."""
        result = self.result
        criterion = self.criteria[question]
        ways = places_to(criterion, result.knowledge, result.configuration)
        to_open = [place for place in ways if place not in self.opened]
        took = sum(result.knowledge.places[place].minutes for place in to_open)
        took += criterion.minutes + ANSWERING_MIN
        if self.after_hour is None and self.minutes + took > HOUR:
            self.after_hour = self.assessed(self.asked)
        self.minutes += took
        self.opened.update(to_open)
        stop = stop_here(criterion, result.knowledge, result.configuration)
        if not self.stops or self.stops[-1] != stop:
            self.stops.append(stop)
        self.asked.append(question)
        self.when[question] = self.minutes

    def look_again(self) -> None:
        """Work out what has been answered."""
        self.result = self.assessed(self.asked)

    def done(self, everything: dict[str, float]) -> Visit:
        """What it came to; given the verdicts with everything visible, likeliest first."""
        chances = (self.after_hour or self.assessed(self.asked)).chances()
        said, sure = next(iter(chances.items()))
        true = next(iter(everything))
        blank = self.assessed(())
        behind = [stop for stop in self.stops if stop not in BEFORE_OPENING]
        return Visit(
            len(self.asked),
            self.minutes,
            len(self.stops) - 1,
            len(behind),
            len(behind) - len(set(behind)),
            min((self.when[q] for q in HOLD if q in self.when), default=None),
            min((self.when[q] for q in SILENT if q in self.when), default=None),
            said,
            sure,
            said == true,
            next(iter(blank.chances())) == true,
            blank.doubt > blank.workshop.settled_doubt,
        )


def ours(visit: Inspection) -> None:
    """The walk with an hour agreed."""
    while questions := visit.walk(max(0.0, HOUR - visit.minutes)).questions:
        visit.take(questions[0])
        visit.look_again()


def part_by_part(visit: Inspection) -> None:
    """The order of a paper form; what a finding opens is asked when its turn comes."""
    openers = {o.criterion for c in visit.criteria.values() for o in c.openings}
    asked: set[str] = set()
    while waiting := frozenset(visit.walk().questions) - asked:
        for question in visit.found.sequence:
            if question in waiting:
                visit.take(question)
                asked.add(question)
                if question in openers:
                    break
        visit.look_again()


def telling_most(visit: Inspection) -> None:
    """Dangers, then what tells most of the verdict in a minute."""
    waiting = set(visit.walk().questions)
    judgements = visit.result.graded.judgements
    for danger in dangers_first(judgements[q] for q in visit.found.sequence if q in waiting):
        visit.take(danger.id)
    visit.look_again()
    while waiting := set(visit.walk().questions):
        most = 1 if visit.minutes <= HOUR else STRIDE
        for look in visit.result.information_value.looks(most, among=waiting):
            visit.take(look.criterion)
        visit.look_again()


def everything_visible(found: Instrument) -> dict[str, float]:
    """The verdicts once all that a home shows is answered, likeliest first."""
    visit = Inspection(found)
    while questions := visit.walk().questions:
        for question in questions:
            visit.take(question)
        visit.look_again()
    return {str(name): chance for name, chance in visit.result.chances().items()}


ORDERS: dict[str, Callable[[Inspection], None]] = {
    "ours": ours,
    "part by part": part_by_part,
    "telling most": telling_most,
}


def drawn(count: int, seed: int) -> Iterator[tuple[str, Job, int]]:
    """Jobs of several kinds, with owners of several kinds; each with the draw that it is."""
    random = Random(seed)
    trade = assess.knowledge_in_use().trade
    for number in range(count):
        job = parse(f"format = 1\n{KINDS[number % len(KINDS)]}", trade=trade)
        owned = job.model_copy(update={"owner": owners(random), "text": ""})
        yield f"drawn {number}", owned, random.randrange(MOST_DRAWN)


def on_file() -> Iterator[tuple[str, Job, int]]:
    """The fixtures and the cases."""
    for folder in (ROOT / "fixtures", ROOT / "tests" / "cases"):
        for file in sorted(folder.glob("*.toml")):
            yield file.stem, assess.load(file), 0


def visits(orders: Sequence[str], drawing: tuple[str, Job, int]) -> dict[str, Visit]:
    """One instrument inspected in each order."""
    _, job, column = drawing
    found = instrument(job, column)
    everything = everything_visible(found)
    made = {}
    for name in orders:
        visit = Inspection(found)
        ORDERS[name](visit)
        made[name] = visit.done(everything)
    return made


def of_median(values: Sequence[float], form: str) -> str:
    """A median with its standard error, by drawing the values again (bootstrap)."""
    if not values:
        return "-"
    again = np.random.RandomState(SEED).choice(values, (RESAMPLES, len(values)))
    error = float(np.median(again, axis=1).std())
    return f"{statistics.median(values):{form}} +- {error:{form}}"


def of_share(hits: Sequence[bool]) -> str:
    """A share with its standard error."""
    if not hits:
        return "-"
    share = statistics.fmean(hits)
    return f"{share:.0%} +- {(share * (1 - share) / len(hits)) ** 0.5:.0%}"


def within_20(times: Iterable[float | None]) -> str:
    """The share of times, of those there are, within twenty minutes."""
    return of_share([time <= 20 for time in times if time is not None])


def of_times(times: Iterable[float | None]) -> str:
    """The median of the times that there are."""
    return of_median([time for time in times if time is not None], ".1f")


ROWS: tuple[tuple[str, Callable[[Sequence[Visit]], str]], ...] = (
    ("questions", lambda some: of_median([v.questions for v in some], ".0f")),
    ("minutes", lambda some: of_median([v.minutes for v in some], ".1f")),
    ("changes of place", lambda some: of_median([v.moves for v in some], ".0f")),
    ("goes to an opened place", lambda some: of_median([v.openings for v in some], ".0f")),
    ("no place gone to twice", lambda some: of_share([not v.reopened for v in some])),
    ("minutes to hold test", lambda some: of_times(v.hold for v in some)),
    ("hold test within 20", lambda some: within_20(v.hold for v in some)),
    ("minutes to silent notes", lambda some: of_times(v.silent for v in some)),
    ("silent notes within 20", lambda some: within_20(v.silent for v in some)),
    ("verdict right at the hour", lambda some: of_share([v.right for v in some])),
    ("the same, where it was open", lambda some: of_share([v.right for v in some if v.open])),
    ("right with nothing seen", lambda some: of_share([v.guessed for v in some])),
    ("the same, where it was open", lambda some: of_share([v.guessed for v in some if v.open])),
)


def print_table(title: str, made: Sequence[dict[str, Visit]], orders: Sequence[str]) -> None:
    """Medians and shares of each order, with their errors."""
    still_open = sum(one[orders[0]].open for one in made)
    print(f"\n{title}: {len(made)}, {still_open} of them open with nothing seen")
    print(f"{'':34}" + "".join(f"{name:>18}" for name in orders))
    for row, cell in ROWS:
        cells = (cell([one[name] for one in made]) for name in orders)
        print(f"{row:34}" + "".join(f"{shown:>18}" for shown in cells))


def main() -> None:
    """Inspect and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=60, help="how many to draw; 300 for a table")
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--orders", nargs="+", choices=ORDERS, default=list(ORDERS))
    parser.add_argument("--workers", type=int, default=1, help="processes; changes no number")
    parser.add_argument("--each", action="store_true", help="also a line for each instrument")
    given = parser.parse_args()
    inspect = partial(visits, given.orders)
    kinds = {"drawn": [*drawn(given.count, given.seed)], "on file": [*on_file()]}
    with ProcessPoolExecutor(given.workers) as pool:
        for title, jobs in kinds.items():
            made = []
            for (name, *_), one in zip(jobs, pool.map(inspect, jobs), strict=True):
                made.append(one)
                for order, visit in one.items() if given.each else ():
                    print(name, order, visit, flush=True)
            if made:
                print_table(title, made, given.orders)


if __name__ == "__main__":
    main()
