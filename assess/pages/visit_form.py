"""The sheets of a visit on paper: the questions in the order of the walk, with boxes to tick."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from assess.assessment import Assessment
from assess.base.units import symbol
from assess.grading.judgements import Judgement, State
from assess.inspection.question_places import places_to, seen_at_visit
from assess.inspection.visit_stops import BEFORE_OPENING, VisitMeans, stop_here
from assess.knowledge.criteria import Criterion
from assess.knowledge.knowledge_base import Knowledge
from assess.output.grades import title
from assess.output.visits import stop_title
from assess.pages.rendering import rendered
from assess.visit.door_questions import DoorQuestion, door_questions
from assess.visit.question_numbers import question_numbers


@dataclass(frozen=True)
class FormLine:
    """One question on paper.

    Attributes:
        number: by which it is typed in.
        asks, how: the question, and how to look.
        boxes: answers to tick with their numbers; empty where a number is written.
        unit: what a number is written in.
        given: the answer that the job file has already.
        follows: the number of the question that opens this one.
        tools: titles of the tools that it needs.
    """

    number: str
    asks: str
    how: str
    boxes: tuple[tuple[int, str], ...]
    unit: str
    given: str
    follows: str = ""
    tools: str = ""


@dataclass(frozen=True)
class FormStop:
    """One stop of the walk on paper: what to open, cautions, and its questions."""

    title: str
    opens: tuple[str, ...]
    cautions: tuple[str, ...]
    lines: tuple[FormLine, ...]


def form_page(result: Assessment, means: VisitMeans, how: bool = False) -> str:
    """The sheets as a page to print, blank or with what the job file says already.

    Args:
        result: the assessment of the job.
        means: time and tools; what does not fit is left out.
        how: also how to look, for each question.
    """
    door = door_questions(result.job, result.knowledge)
    return rendered(
        "visit_form.html",
        title=title(result),
        door=[_door_line(number, question) for number, question in enumerate(door, 1)],
        door_title=result.trade.visit.told,
        stops=form_stops(result, means),
        how=how,
    )


def form_stops(result: Assessment, means: VisitMeans) -> tuple[FormStop, ...]:
    """Every stop of the visit with its questions, by number."""
    knowledge, configuration = result.knowledge, result.configuration
    numbers = question_numbers(knowledge)
    judgements = result.graded.judgements
    fitting = set(result.walk(replace(means, again=True)).questions)
    asked = [
        judgements[c]
        for c in sorted(numbers, key=lambda c: numbers[c])
        if judgements[c].state is not State.NOT_PRESENT
        and seen_at_visit(judgements[c], knowledge, configuration)
        and _openers(c, knowledge) & fitting
    ]
    stops: dict[str, list[Judgement]] = {}
    for judgement in asked:
        stop = stop_here(judgement.criterion, knowledge, configuration)
        stops.setdefault(stop, []).append(judgement)
    opened: set[str] = set()
    found = []
    for name, there in stops.items():
        ways = (places_to(j.criterion, knowledge, configuration) for j in there)
        needed = dict.fromkeys(place for way in ways for place in way)
        opens = [] if name in BEFORE_OPENING else [p for p in needed if p not in opened]
        opened.update(opens)
        found.append(
            FormStop(
                stop_title(name, result),
                tuple(knowledge.places[p].open for p in opens),
                tuple(_cautions(opens, knowledge)),
                tuple(_line(j, numbers, knowledge) for j in there),
            )
        )
    return tuple(found)


def _openers(criterion: str, knowledge: Knowledge) -> set[str]:
    """The questions that open a question, through others; itself where nothing does."""
    openings = knowledge.criteria[criterion].openings
    return set().union(*(_openers(o.criterion, knowledge) for o in openings)) or {criterion}


def _numbers_of(criterion: Criterion, numbers: Mapping[str, int]) -> list[str]:
    """The numbers of the questions that open a question."""
    return [str(numbers[o.criterion]) for o in criterion.openings if o.criterion in numbers]


def _cautions(places: Iterable[str], knowledge: Knowledge) -> list[str]:
    named = dict.fromkeys(c for place in places for c in knowledge.places[place].open_cautions)
    return [f"{knowledge.cautions[c].title}: {knowledge.cautions[c].text}" for c in named]


def _line(judgement: Judgement, numbers: dict[str, int], knowledge: Knowledge) -> FormLine:
    criterion = judgement.criterion
    tools = [knowledge.tools[t].title for t in criterion.tools if t in knowledge.tools]
    note = f" / {judgement.note}" if judgement.note else ""
    return FormLine(
        number=str(numbers[criterion.id]),
        asks=criterion.asks,
        how=criterion.how,
        boxes=() if criterion.measured else _numbered(o.label for o in criterion.outcomes),
        unit="how many" if criterion.unit == "count" else symbol(criterion.unit),
        given=f"{judgement.given}{note}" if judgement.given else "",
        follows=" or ".join(_numbers_of(criterion, numbers)),
        tools=", ".join(tools),
    )


def _door_line(number: int, question: DoorQuestion) -> FormLine:
    boxes = tuple((number, words) for number, _, words in question.shown)
    unit = {"year": "year", "number": "number", "text": ""}.get(question.kind, "")
    return FormLine(f"D{number}", question.asks, "", boxes, unit, question.given)


def _numbered(labels: Iterable[str]) -> tuple[tuple[int, str], ...]:
    return tuple(enumerate(labels, 1))
