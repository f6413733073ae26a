"""A visit as text: where one stands, what is answered, and how things look at its end."""

from __future__ import annotations

from assess.assessment import Assessment
from assess.grading.judgements import Judgement, State
from assess.inspection.visit_walk import Walk
from assess.output.grades import expected_span
from assess.output.layout import amount, bullets, paragraph, section, sections, table
from assess.output.verdicts import headline, how_sure

MOST_FOUND = 9
"""How many questions a word may lead to."""
MOST_NAMED = 6
"""How many questions that did not fit are named."""
MOST_FINDINGS = 5
"""How many findings the end of a visit names, worst first."""
TOO_EARLY = "Too early for a verdict. What decides has not been tried yet:"


def stop_title(stop: str, result: Assessment) -> str:
    """What a stop of the walk is called: the trade's word, or the place."""
    words = {k: str(v) for k, v in result.trade.visit.model_dump().items()}
    return words.get(stop) or result.knowledge.places[stop].title


def waiting_for_tools(walk: Walk, result: Assessment) -> str:
    """The tools that the bag lacks, and how many questions wait for each."""
    tools = result.knowledge.tools
    named = [
        f"{tools[tool].title if tool in tools else tool} ({len(questions)})"
        for tool, questions in walk.no_tool.items()
    ]
    first = next(iter(walk.no_tool))
    return (
        f"Not in the bag, with the questions that wait for it: {', '.join(named)}. Where you have "
        f"one, start with --with {first}, or name it under tools in the workshop profile."
    )


def overview(result: Assessment, whole: Walk, walk: Walk) -> str:
    """Every stop with how much of it is answered, and the answers themselves."""
    judgements = result.graded.judgements
    parts = []
    for stop in whole.stops:
        rows = [_row(judgements[q], q in walk.questions) for q in stop.questions]
        done = sum(judgements[q].state is not State.NO_ANSWER for q in stop.questions)
        head = f"{stop_title(stop.id, result)}: {done} of {len(stop.questions)} answered"
        parts.append(section(head, table(rows, ["Question", "Answer"], [46, 28])))
    return sections(parts)


def _row(judgement: Judgement, in_walk: bool) -> list[object]:
    waiting = "to be asked" if in_walk else "not in the time left"
    return [judgement.criterion.asks, judgement.given or waiting]


def found_by_words(words: str, result: Assessment, whole: Walk) -> list[Judgement]:
    """Questions that have all of some words in them, in the order of the visit."""
    wanted = words.casefold().split()
    if not wanted:
        return []
    judgements = result.graded.judgements
    found = [q for q in whole.questions if all(w in _searched(judgements[q]) for w in wanted)]
    return [judgements[question] for question in found[:MOST_FOUND]]


def _searched(judgement: Judgement) -> str:
    """The text of a question in which a word is looked up."""
    return f"{judgement.criterion.asks} {judgement.id.replace('_', ' ')}".casefold()


def nothing_decides_yet(result: Assessment) -> str:
    """What must be tried before a verdict means anything; nothing once something has been."""
    untried = untried_yet(result)
    named = bullets(untried)
    return f"{TOO_EARLY}\n{named}" if untried else ""


def untried_yet(result: Assessment) -> list[str]:
    """What must be tried before a verdict means anything; nothing once one of it has been."""
    vital = [j for j in result.graded.judgements.values() if j.criterion.vital and j.counts]
    if any(j.is_seen for j in vital):
        return []
    return [j.criterion.asks for j in vital[:MOST_NAMED]]


def summary(result: Assessment, walk: Walk) -> str:
    """How things stand: state, recommendation with one price range, what was not seen."""
    early = nothing_decides_yet(result)
    if early:
        return sections(["", section("So far", early)])
    found = [f"{f.criterion.asks}: {f.given}" for f in worst_found(result)]
    found = found or ["nothing wrong so far"]
    return sections(
        [
            "",
            section("State", bullets([f"Grade {expected_span(result)}", *found])),
            section("Recommendation", paragraph(headline(result)), paragraph(how_sure(result))),
            _not_seen(result, walk),
        ]
    )


def worst_found(result: Assessment) -> list[Judgement]:
    """The findings that the end of a visit names, worst first."""
    return sorted(result.graded.findings, key=lambda f: -f.outcome.condition)[:MOST_FINDINGS]


def _not_seen(result: Assessment, walk: Walk) -> str:
    """What was not seen, as a section of text."""
    lines = not_seen_yet(result, walk)
    return section("Not seen", bullets(lines)) if lines else ""


def not_seen_yet(result: Assessment, walk: Walk) -> list[str]:
    """What the visit leaves open: no time, no tool, or still to be asked."""
    criteria = result.knowledge.criteria
    lines = []
    if walk.no_time:
        named = "; ".join(criteria[q].asks for q in walk.no_time[:MOST_NAMED])
        lines.append(f"No time for {len(walk.no_time)} questions; first of them: {named}")
    if walk.no_tool:
        lines.append(waiting_for_tools(walk, result))
    if walk.questions:
        left = f"{len(walk.questions)} questions, about {amount(walk.minutes)} minutes"
        lines.append(f"Still to be asked: {left}")
    return lines
