"""Which questions of a visit fit into its minutes.

What tells most in a minute is kept, with the opening of a place counted once, and with going
back to a stop that was left. A question brings with it those whose reading it needs.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

from assess.grading.judgements import Judgement
from assess.inspection.question_places import ANSWERING_MIN, is_danger, places_to
from assess.inspection.visit_stops import VisitMeans, return_min, stop_here
from assess.job.configuration import Configuration
from assess.knowledge.criteria import Criterion
from assess.knowledge.knowledge_base import Knowledge
from assess.knowledge.steps import subsystem_of

SIGNIFICANT = 2
"""A significance, of 0..3, that may decide by itself what is done."""
WEIGHT_SHARE = 0.5
"""How much a question's weight in the grade counts beside what it tells of the verdict."""
BACK = "back to "
"""Before the name of a stop that was left: as good as a place to open."""


def worths(
    judgements: Sequence[Judgement], telling: Mapping[str, float], knowledge: Knowledge
) -> dict[str, float]:
    """What each question is worth: what it tells of the verdict, and its weight in the grade."""
    most = max((telling.get(j.id, 0.0) for j in judgements), default=0.0) or 1.0
    weights = {j.id: _weight(j, knowledge) for j in judgements}
    heaviest = max(weights.values(), default=0.0) or 1.0
    return {
        j.id: telling.get(j.id, 0.0) / most + WEIGHT_SHARE * weights[j.id] / heaviest
        for j in judgements
    }


def _weight(judgement: Judgement, knowledge: Knowledge) -> float:
    return judgement.criterion.weight * knowledge.subsystems[subsystem_of(judgement.id)].weight


def fitting(
    able: Sequence[Judgement],
    worth: Mapping[str, float],
    first: Collection[str],
    knowledge: Knowledge,
    configuration: Configuration,
    means: VisitMeans,
) -> frozenset[str]:
    """The questions that fit into the minutes.

    Dangers, tests of complaints, and what may decide alone are asked in any case.
    """
    if means.minutes is None:
        return frozenset(j.id for j in able)
    bag = _Bag(able, worth, knowledge, configuration, means)
    for judgement in able:
        if judgement.id in first or _decides(judgement):
            bag.take(bag.with_readings(judgement.id))
    bag.fill()
    return frozenset(bag.kept)


def _decides(judgement: Judgement) -> bool:
    """Whether one answer to a question may settle what is done, or warn of danger."""
    criterion = judgement.criterion
    alone = any(o.ruins or o.significance >= SIGNIFICANT for o in criterion.outcomes)
    return is_danger(judgement) or criterion.vital or alone


class _Bag:
    """Questions taken while there is time: what tells most in a minute first."""

    def __init__(
        self,
        able: Sequence[Judgement],
        worth: Mapping[str, float],
        knowledge: Knowledge,
        configuration: Configuration,
        means: VisitMeans,
    ) -> None:
        self.worth = worth
        self.left = float(means.minutes or 0.0)
        self.chains = {j.id: _way(j.criterion, knowledge, configuration, means) for j in able}
        self.opened = set(means.opened)
        self.opening = {
            place: _opening_min(place, knowledge)
            for chain in self.chains.values()
            for place in chain
        }
        self.looking = {j.id: j.criterion.minutes + ANSWERING_MIN for j in able}
        self.before = {j.id: j.criterion.after for j in able}
        self.waiting = {j.id for j in able}
        self.kept: set[str] = set()

    def with_readings(self, question: str) -> tuple[str, ...]:
        """A question and what must be asked before it, since it needs their reading."""
        found, todo = dict[str, None](), [question]
        while todo:
            name = todo.pop()
            if name in self.looking and name not in self.kept and name not in found:
                found[name] = None
                todo += self.before[name]
        return tuple(found)

    def take(self, questions: tuple[str, ...]) -> None:
        """Keep questions, and open what they need."""
        self.left -= self._takes(questions)
        for question in questions:
            self.opened.update(self.chains[question])
            self.waiting.discard(question)
            self.kept.add(question)

    def fill(self) -> None:
        """Keep what fits."""
        rates: dict[str, float] = {}
        while self.waiting:
            for waiting in self.waiting - rates.keys():
                rates[waiting] = self._rate(waiting)
            question = max(self.waiting, key=lambda q: (rates[q], q))
            rate = self._rate(question)
            if rate < rates[question]:  # less is left behind its place than before
                rates[question] = rate
                continue
            together = self.with_readings(question)
            fits = self._takes(together) <= self.left
            if fits and (len(together) > 1 or self._to_open(together)):
                rates.clear()  # more lies open now, or needs less before it
            if fits:
                self.take(together)
            else:
                self.waiting.discard(question)

    def _takes(self, questions: tuple[str, ...]) -> float:
        """Minutes for questions, with opening what they need."""
        return sum(self.looking[q] for q in questions) + self._to_open(questions)

    def _to_open(self, questions: tuple[str, ...]) -> float:
        places = {place for question in questions for place in self.chains[question]}
        return sum(self.opening[place] for place in places - self.opened)

    def _rate(self, question: str) -> float:
        """What a question is worth a minute; behind a closed place, with what lies beside it."""
        together = self.with_readings(question)
        own = sum(self.worth[q] for q in together) / sum(self.looking[q] for q in together)
        to_open = self._to_open(together)
        if to_open == 0:
            return own
        chain = {place for q in together for place in self.chains[q]}
        return min(own, self._behind(chain, to_open))

    def _behind(self, chain: set[str], to_open: float) -> float:
        """The most that opening a place is worth a minute, with the best of what lies there."""
        there = [q for q in self.waiting if set(self.chains[q]) <= self.opened.union(chain)]
        closed = [q for q in there if self._to_open((q,)) > 0]
        closed.sort(key=lambda q: -self.worth[q] / self.looking[q])
        best, gained, spent = 0.0, 0.0, to_open
        for question in closed:
            gained += self.worth[question]
            spent += self.looking[question]
            best = max(best, gained / spent)
        return best


def _way(
    criterion: Criterion, knowledge: Knowledge, configuration: Configuration, means: VisitMeans
) -> tuple[str, ...]:
    """What it takes to get to a question: places to open, or a stop to go back to."""
    places = places_to(criterion, knowledge, configuration)
    stop = stop_here(criterion, knowledge, configuration)
    return (*places, f"{BACK}{stop}") if stop in means.left else places


def _opening_min(place: str, knowledge: Knowledge) -> float:
    """Minutes to open a place, or to go back to a stop that was left and closed."""
    if not place.startswith(BACK):
        return knowledge.places[place].minutes
    return return_min(place.removeprefix(BACK), knowledge)
