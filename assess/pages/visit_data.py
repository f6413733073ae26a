"""What the visit page shows, as plain data that a script can draw.

Nothing here tells a grade, a price or a share that was seen, except :func:`craftsman_data`: the
owner looks on.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from assess.assessment import Assessment
from assess.base.units import symbol
from assess.grading.grades import CLASS_WORDS
from assess.grading.judgements import Judgement, State
from assess.inspection.question_places import is_danger
from assess.inspection.visit_walk import Stop, Walk
from assess.job.answers import GivenAnswer, read_answers
from assess.job.job_file import WHOLE
from assess.job.survey_edits import read_survey_text
from assess.knowledge.knowledge_base import Knowledge
from assess.knowledge.surveys import UNIT_COLUMN, HeardSurvey, Survey
from assess.output.cautions import in_full, in_order
from assess.output.grades import expected_span, title
from assess.output.verdicts import headline, how_sure
from assess.output.visits import TOO_EARLY, not_seen_yet, stop_title, untried_yet, worst_found
from assess.visit.door_questions import DoorQuestion, door_questions, nothing_told
from assess.visit.session import VisitSession
from assess.visit.survey_cells import survey_path

Data = dict[str, Any]
MOST_LOOKS = 6
"""How many looks the craftsman's screen names."""


def job_mark(path: Path) -> str:
    """What tells one job file from another, without its name."""
    return hashlib.sha256(str(path.resolve()).encode()).hexdigest()[:16]


def visit_data(visit: VisitSession) -> Data:
    """The whole visit: stops, questions with the present answers, what is asked next, grids.

    Raises:
        JobFileError: the job file, or a survey beside it, cannot be read.
    """
    result = visit.assessed()
    walk, whole = visit.walk(result), visit.whole_walk(result)
    answers = read_answers(result.job, result.knowledge)
    judgements = result.graded.judgements
    asked = dict.fromkeys((*whole.questions, *walk.questions))
    return {
        "job": job_mark(visit.path),
        "title": title(result),
        "clock": {"agreed": visit.agreed_min, "spent": visit.spent_min},
        "door": _door(result),
        "stops": [_stop(stop, result) for stop in whole.stops],
        "questions": {q: _question(judgements[q], answers.get(q), result) for q in asked},
        "next": list(walk.questions),
        "minutes": walk.minutes,
        "no_time": list(walk.no_time),
        "photographs": len(result.job.photographs.get(WHOLE, ())),
        "no_tool": _no_tool(walk, result.knowledge),
        "grids": [] if visit.only else _grids(result),
    }


def answer_text(given: GivenAnswer | None) -> str | None:
    """What the file says to a question, or None."""
    return None if given is None else given.text


def cautions_text(cautions: Iterable[str], knowledge: Knowledge) -> list[str]:
    """Cautions in full, dangers to people first."""
    return [in_full(knowledge.cautions[c]) for c in in_order(cautions, knowledge)]


def _door(result: Assessment) -> Data:
    questions = door_questions(result.job, result.knowledge)
    return {
        "title": result.trade.visit.told,
        "first": nothing_told(result.job),
        "questions": [_door_question(question) for question in questions],
    }


def _door_question(question: DoorQuestion) -> Data:
    options = [{"value": str(value), "label": words} for _, value, words in question.shown]
    return {
        "id": question.id,
        "asks": question.asks,
        "kind": question.kind,
        "options": options,
        "given": question.given,
    }


def _stop(stop: Stop, result: Assessment) -> Data:
    places = result.knowledge.places
    cautions = [c for place in stop.opens for c in places[place].open_cautions]
    return {
        "id": stop.id,
        "title": stop_title(stop.id, result),
        "opens": [places[place].open for place in stop.opens],
        "cautions": cautions_text(cautions, result.knowledge),
        "questions": list(stop.questions),
    }


def _question(judgement: Judgement, answer: GivenAnswer | None, result: Assessment) -> Data:
    criterion, knowledge = judgement.criterion, result.knowledge
    kind = {None: "choice", "count": "count", "s": "time"}.get(criterion.unit, "number")
    options = [] if criterion.measured else criterion.outcomes
    return {
        "asks": criterion.asks,
        "how": criterion.how,
        "kind": kind,
        "unit": symbol(criterion.unit) if kind in ("number", "time") else "",
        "options": [
            {"label": o.label, "cautions": cautions_text(o.cautions, knowledge)} for o in options
        ],
        "danger": is_danger(judgement),
        "tools": [knowledge.tools[t].title for t in criterion.tools if t in knowledge.tools],
        "answer": answer_text(answer),
        "said": "" if answer is not None else judgement.given,
        "done": judgement.state is not State.NO_ANSWER,
        "note": answer.note if answer else "",
        "photographs": len(result.job.photographs.get(judgement.id, ())),
    }


def _no_tool(walk: Walk, knowledge: Knowledge) -> list[Data]:
    tools = knowledge.tools
    return [
        {"tool": tools[tool].title if tool in tools else tool, "questions": list(questions)}
        for tool, questions in walk.no_tool.items()
    ]


def _grids(result: Assessment) -> list[Data]:
    surveys = result.knowledge.surveys.items()
    return [_grid(name, survey, result) for name, survey in surveys if survey.grid]


def _grid(name: str, survey: Survey, result: Assessment) -> Data:
    grid = survey.grid
    if grid is None:
        raise ValueError(f"{name} declares no grid")
    written = read_survey_text(survey_path(result, name), survey)
    units = [u for u in result.knowledge.further_units if u.kind == survey.each]
    by = [{"id": c, "choices": _choices(survey, c)} for c in grid.by]
    if units:
        by.insert(0, {"id": UNIT_COLUMN, "choices": ["", *(u.id for u in units)]})
    marked = (survey.hears.mark,) if survey.hears else ()
    columns = (*grid.columns, *survey.key, *marked)
    return {
        "id": name,
        "title": survey.title,
        "row": grid.row,
        "cells": list(survey.cells),
        "by": by,
        "mark": {"id": grid.mark, "choices": _choices(survey, grid.mark)},
        "number": {"id": grid.number, "unit": _unit(survey, grid.number)} if grid.number else None,
        "no_number": list(grid.no_number),
        "remark": {"id": grid.remark, "choices": _choices(survey, grid.remark)}
        if grid.remark
        else None,
        "shown": list(grid.shown or (survey.cells[0], survey.cells[-1])),
        "line": grid.line,
        "hears": _hears(survey.hears) if survey.hears else None,
        "rows": [_grid_row(r, columns, survey) for r in written.records()],
    }


def _grid_row(record: Mapping[str, str], columns: Iterable[str], survey: Survey) -> Data:
    """What a page needs of a row; an empty key cell stands for what is usual."""
    usual = {c: survey.column(c).usual for c in survey.key}
    cells = {c: record.get(c) or usual.get(c, "") for c in columns}
    return {c: text for c, text in cells.items() if text}


def _hears(hears: HeardSurvey) -> Data:
    """What a page needs to know before it listens."""
    options = [{"id": o.id, "says": o.says, "column": o.column or ""} for o in hears.options]
    return {"mark": hears.mark, "how": list(hears.how), "options": options}


def _unit(survey: Survey, column: str) -> str:
    return symbol(survey.column(column).unit)


def _choices(survey: Survey, column: str) -> list[str]:
    return list(survey.column(column).choices)


def craftsman_data(visit: VisitSession) -> Mapping[str, Any]:
    """How things stand, for the craftsman alone: state, recommendation, what is left to see.

    Raises:
        JobFileError: the job file cannot be read.
    """
    result = visit.assessed()
    walk = visit.walk(result)
    early = untried_yet(result)
    looks = result.information_value.looks(MOST_LOOKS, everything=visit.everything)
    return {
        "state": _state(result),
        "early": TOO_EARLY if early else "",
        "untried": early,
        "recommendation": [] if early else [headline(result), how_sure(result)],
        "looks": [
            f"{result.knowledge.criteria[look.criterion].asks} ({look.minutes:g} min)"
            for look in looks
        ],
        "open": not_seen_yet(result, walk),
    }


def _state(result: Assessment) -> list[str]:
    """The grade and the worst findings."""
    if result.graded.instrument.coverage == 0:
        return ["Nothing has been looked at yet"]
    found = [_found(f) for f in worst_found(result)] or ["No faults in what was seen"]
    return [f"Grade {expected_span(result)} of 100", *found]


def _found(judgement: Judgement) -> str:
    condition = judgement.outcome.condition
    said = f"{judgement.criterion.asks}: {judgement.given}"
    note = f" ({judgement.note})" if judgement.note else ""
    return f"{condition} {CLASS_WORDS[condition]}. {said}{note}"
