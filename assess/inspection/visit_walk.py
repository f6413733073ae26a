"""The order in which a person walks through a visit, and what fits into its minutes.

First what the owner tells, then dangers to people, then what shows while the object is used,
then round the outside, then each place once, what is least to open first. Within a stop the
tests of what is complained of come first, then what a part stands or falls with, then what is
read off the same test, then part by part; a question comes after those whose reading it needs.
Where the minutes are short, what tells most in a minute is kept, counting the opening of a place
once; the rest is left out and named. A stop is finished before the next is gone to. What opens
or tells more once its stop is left waits until the end, and going back for it counts.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from assess.grading.grades import Graded
from assess.grading.judgements import Judgement, State
from assess.grading.openings import is_opened
from assess.inspection.question_order import (
    ANSWERING_MIN,
    asks_for_danger,
    is_danger,
    places_there,
    places_to,
    seen_at_visit,
)
from assess.job.configuration import Configuration
from assess.knowledge.criteria import Criterion
from assess.knowledge.knowledge_base import Knowledge
from assess.knowledge.steps import subsystem_of

TOLD, DANGERS, USED, ROUND = "told", "dangers", "used", "round"
BEFORE_OPENING = (TOLD, DANGERS, USED, ROUND)
"""The stops at which nothing is opened, in order."""
SIGNIFICANT = 2
"""A significance, of 0..3, that may decide by itself what is done."""
WEIGHT_SHARE = 0.5
"""How much a question's weight in the grade counts beside what it tells of the verdict."""
RETURN_MIN = 1.0
"""Minutes to go back to a stop that was left, besides opening its place again; an estimate."""


@dataclass(frozen=True)
class Stop:
    """One stop of the walk: questions that are asked without going elsewhere.

    Attributes:
        id: one of :data:`BEFORE_OPENING`, or the place that is open.
        opens: places to open on arriving, outermost first.
        questions: full ids, in order.
        minutes: for opening, looking and writing.
    """

    id: str
    opens: tuple[str, ...]
    questions: tuple[str, ...]
    minutes: float


@dataclass(frozen=True)
class Walk:
    """The rest of a visit.

    Attributes:
        stops: in order; a place is in one stop only.
        no_time: questions that do not fit, those that tell most first.
        no_tool: questions that wait for a tool, by the tool's id.
    """

    stops: tuple[Stop, ...]
    no_time: tuple[str, ...]
    no_tool: Mapping[str, tuple[str, ...]]

    @property
    def questions(self) -> tuple[str, ...]:
        """Every question of the walk, in order."""
        return tuple(question for stop in self.stops for question in stop.questions)

    @property
    def minutes(self) -> float:
        """Minutes that it takes."""
        return sum(stop.minutes for stop in self.stops)

    def of(self, chosen: Callable[[str], bool]) -> Walk:
        """The walk with some questions only; the minutes of a stop count what stays."""
        stops = tuple(
            replace(stop, questions=kept)
            for stop in self.stops
            if (kept := tuple(q for q in stop.questions if chosen(q)))
        )
        no_tool = {t: kept for t, qs in self.no_tool.items() if (kept := tuple(filter(chosen, qs)))}
        return Walk(stops, tuple(filter(chosen, self.no_time)), no_tool)

    def stop_of(self, question: str) -> Stop | None:
        """The stop at which a question is asked."""
        return next((stop for stop in self.stops if question in stop.questions), None)


@dataclass(frozen=True)
class VisitMeans:
    """What a visit has.

    Attributes:
        minutes: what is left of the time agreed; None for as long as it takes.
        tools: tools that the bag holds besides the usual ones.
        opened: places that are open already.
        been: the stops gone to so far, in order; the visit stands at the last.
        everything: also what can be seen in the workshop only.
        again: also what has been answered.
    """

    minutes: float | None = None
    tools: frozenset[str] = frozenset()
    opened: frozenset[str] = frozenset()
    been: tuple[str, ...] = ()
    everything: bool = False
    again: bool = False

    @property
    def left(self) -> frozenset[str]:
        """Stops that were gone to and left."""
        return frozenset(self.been) - frozenset(self.been[-1:])


def visit_walk(
    graded: Graded,
    knowledge: Knowledge,
    configuration: Configuration,
    means: VisitMeans,
    telling: Mapping[str, float],
    tests: Iterable[str] = (),
) -> Walk:
    """Work out the rest of a visit.

    Args:
        graded: what has been seen.
        knowledge: what is declared.
        configuration: what the object has.
        means: time, tools, and places that are open.
        telling: what each unseen question tells of the verdict, in bits.
        tests: questions about what is complained of; they are kept and come first.
    """
    known = graded.judgements
    asked = [j for j in known.values() if _is_asked(j, known, knowledge, configuration, means)]
    missing = {j.id: tool for j in asked if (tool := _missing_tool(j.criterion, knowledge, means))}
    able = [j for j in asked if j.id not in missing]
    first = {test: position for position, test in enumerate(tests)}
    worth = _worths(able, telling, knowledge)
    kept = _fitting(able, worth, first, knowledge, configuration, means)
    no_tool: dict[str, tuple[str, ...]] = {}
    for question, tool in missing.items():
        no_tool[tool] = (*no_tool.get(tool, ()), question)
    left = sorted((j.id for j in able if j.id not in kept), key=lambda q: (-worth[q], q))
    chosen = [j for j in able if j.id in kept]
    stops = _stops(chosen, first, knowledge, configuration, means)
    return Walk(tuple(stops), tuple(left), no_tool)


def stop_of_criterion(criterion: Criterion, knowledge: Knowledge) -> str:
    """Where in the walk a question is asked: a stop before opening, or its place."""
    if criterion.places:
        return last_place(criterion.places, knowledge)
    if asks_for_danger(criterion):
        return DANGERS
    return criterion.during or knowledge.components[criterion.component].during


def stop_here(criterion: Criterion, knowledge: Knowledge, configuration: Configuration) -> str:
    """Where in the walk a question about this object is asked, which may lack some places.

    What is looked at in a place that the object lacks lies open: it is seen on the round.
    """
    there = places_there(criterion, knowledge, configuration)
    if there:
        return last_place(there, knowledge)
    if criterion.places:
        return criterion.during or ROUND
    return stop_of_criterion(criterion, knowledge)


def last_place(places: Iterable[str], knowledge: Knowledge) -> str:
    """Of several places that something is seen from, the one that is opened last."""
    return max(places, key=lambda place: (*reach_of(place, knowledge), place))


def reach_of(place: str, knowledge: Knowledge) -> tuple[int, float]:
    """How far a place lies inside, and the minutes to open it with those around it."""
    depth, opening, name = 0, 0.0, place or None
    while name:
        depth, opening = depth + 1, opening + knowledge.places[name].minutes
        name = knowledge.places[name].inside
    return depth, opening


def _is_asked(
    judgement: Judgement,
    known: Mapping[str, Judgement],
    knowledge: Knowledge,
    configuration: Configuration,
    means: VisitMeans,
) -> bool:
    """Whether a question is to be asked in this visit."""
    if judgement.state is State.NOT_PRESENT or judgement.criterion.computed_from:
        return False
    if not (means.again or judgement.state is State.NO_ANSWER):
        return False
    if not is_opened(judgement, known):
        return False
    return means.everything or seen_at_visit(judgement, knowledge, configuration)


def _missing_tool(criterion: Criterion, knowledge: Knowledge, means: VisitMeans) -> str:
    """The first tool that a question needs and the bag does not hold."""
    for tool in criterion.tools:
        declared = knowledge.tools.get(tool)
        if tool not in means.tools and not (declared and declared.in_bag):
            return tool
    return ""


def _worths(
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


def _fitting(
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


BACK = "back to "
"""Before the name of a stop that was left: as good as a place to open."""


def _opening_min(place: str, knowledge: Knowledge) -> float:
    """Minutes to open a place, or to go back to a stop that was left and closed."""
    if not place.startswith(BACK):
        return knowledge.places[place].minutes
    return _return_min(place.removeprefix(BACK), knowledge)


def _return_min(stop: str, knowledge: Knowledge) -> float:
    """Minutes to go back to a stop, and to open it again where it is a place."""
    return RETURN_MIN + (knowledge.places[stop].minutes if stop in knowledge.places else 0.0)


def _stops(
    chosen: Sequence[Judgement],
    first: Mapping[str, int],
    knowledge: Knowledge,
    configuration: Configuration,
    means: VisitMeans,
) -> list[Stop]:
    """The chosen questions by stop, each place opened once."""
    by_stop: dict[str, list[Criterion]] = {}
    for judgement in chosen:
        stop = stop_here(judgement.criterion, knowledge, configuration)
        by_stop.setdefault(stop, []).append(judgement.criterion)
    open_now = set(means.opened)
    stops = []
    for name in sorted(by_stop, key=lambda n: (_when(n, means), *walk_order(n, knowledge))):
        questions = in_turn(by_stop[name], knowledge, first)
        ways = (places_to(c, knowledge, configuration) for c in questions)
        needed = dict.fromkeys(place for way in ways for place in way)
        opens = tuple(place for place in needed if place not in open_now)
        open_now.update(opens)
        spent = sum(knowledge.places[place].minutes for place in opens)
        spent += sum(c.minutes + ANSWERING_MIN for c in questions)
        if name in means.left:
            spent += _return_min(name, knowledge)
        stops.append(Stop(name, opens, tuple(c.id for c in questions), spent))
    return stops


def _when(stop: str, means: VisitMeans) -> int:
    """What comes first: the stop where the visit stands, those ahead, those that were left."""
    if means.been and stop == means.been[-1]:
        return 0
    return 2 if stop in means.left else 1


def walk_order(stop: str, knowledge: Knowledge) -> tuple[int, int, float, str]:
    """Where a stop stands in the walk: what needs no opening, then what is least to open."""
    if stop in BEFORE_OPENING:
        return BEFORE_OPENING.index(stop), 0, 0.0, stop
    return len(BEFORE_OPENING), *reach_of(stop, knowledge), stop


def in_turn(
    there: Iterable[Criterion], knowledge: Knowledge, first: Mapping[str, int] | None = None
) -> list[Criterion]:
    """Questions of one stop in order.

    Tests of complaints, what a part stands or falls with, what is read off the same test, then
    part by part; each after those whose reading it needs.

    Args:
        there: the questions of the stop.
        knowledge: what is declared.
        first: tests of what is complained of, each with its position among them.
    """
    tests = first or {}
    position = {c: n for n, c in enumerate(knowledge.criteria)}
    here = {criterion.id: criterion for criterion in there}

    def rank(criterion: Criterion) -> tuple[int, int, int]:
        same_test = any(c in here and here[c].vital for c in criterion.after)
        group = 0 if criterion.vital else 1 if same_test else 2
        return tests.get(criterion.id, len(tests)), group, position[criterion.id]

    ranked = sorted(here.values(), key=rank)
    turn: dict[str, Criterion] = {}

    def put(criterion: Criterion, waiting: frozenset[str]) -> None:
        if criterion.id in turn or criterion.id in waiting:
            return
        for before in criterion.after:
            if before in here:
                put(here[before], waiting | {criterion.id})
        turn[criterion.id] = criterion

    for criterion in ranked:
        put(criterion, frozenset())
    return list(turn.values())
