"""The order in which a person walks through a visit.

First what the owner tells, then dangers to people, then what shows while the object is used,
then round the outside, then each place once, what is least to open first. Within a stop the
tests of what is complained of come first, then vital questions, then what is read off the same
test, then part by part; a question comes after those whose reading it needs. A stop is finished
before the next is gone to. What opens or tells more once its stop is left waits until the end.
Where the minutes are short, see :mod:`assess.inspection.visit_time`; what is left out is named.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from assess.grading.grades import Graded
from assess.grading.judgements import Judgement, State
from assess.grading.openings import is_opened
from assess.inspection.question_places import ANSWERING_MIN, places_to, seen_at_visit
from assess.inspection.visit_stops import (
    VisitMeans,
    return_min,
    stop_here,
    walk_order,
    when_to_go,
)
from assess.inspection.visit_time import fitting, worths
from assess.job.configuration import Configuration
from assess.knowledge.criteria import Criterion
from assess.knowledge.knowledge_base import Knowledge


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
    worth = worths(able, telling, knowledge)
    kept = fitting(able, worth, first, knowledge, configuration, means)
    no_tool: dict[str, tuple[str, ...]] = {}
    for question, tool in missing.items():
        no_tool[tool] = (*no_tool.get(tool, ()), question)
    left = sorted((j.id for j in able if j.id not in kept), key=lambda q: (-worth[q], q))
    chosen = [j for j in able if j.id in kept]
    stops = _stops(chosen, first, knowledge, configuration, means)
    return Walk(tuple(stops), tuple(left), no_tool)


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
    for name in sorted(by_stop, key=lambda n: (when_to_go(n, means), *walk_order(n, knowledge))):
        questions = in_turn(by_stop[name], knowledge, first)
        ways = (places_to(c, knowledge, configuration) for c in questions)
        needed = dict.fromkeys(place for way in ways for place in way)
        opens = tuple(place for place in needed if place not in open_now)
        open_now.update(opens)
        spent = sum(knowledge.places[place].minutes for place in opens)
        spent += sum(c.minutes + ANSWERING_MIN for c in questions)
        if name in means.left:
            spent += return_min(name, knowledge)
        stops.append(Stop(name, opens, tuple(c.id for c in questions), spent))
    return stops


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
