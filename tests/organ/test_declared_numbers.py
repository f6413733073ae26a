"""What is declared of every answer, test and piece of work, as it was read, one entry a line.

A number or a warning that is changed by mistake shows as a changed line. Thresholds stand in a
list of their own. Refresh with ``UPDATE_GOLDEN=1``, and read the
difference.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator
from itertools import groupby

import pytest
from conftest import ROOT, golden

import assess
from assess.knowledge.criteria import Criterion, Outcome
from assess.knowledge.steps import subsystem_of
from assess.knowledge.work import Place, Repair, Work

KNOWLEDGE = assess.knowledge_in_use()
WORK: list[Work] = [*KNOWLEDGE.repairs.values(), *KNOWLEDGE.hold_points.values()]


def numbers(values: Iterable[float]) -> str:
    """Numbers without needless zeros."""
    return " ".join(f"{value:g}" for value in values)


def named(**values: object) -> str:
    """Each value that is not empty or zero, after its name; of a flag, the name alone."""
    given = ((name.replace("_", " "), value) for name, value in values.items() if value)
    return "".join(f", {name}" if value is True else f", {name} {value}" for name, value in given)


def times_done(work: Work) -> str:
    """What the hours of a piece of work grow with."""
    grows = [f"{'*'.join(work.hours_per.facts)}/{work.hours_per.usual:g}"] if work.hours_per else []
    if isinstance(work, Repair):
        grows += [*work.per, *work.per_fact]
    return " x ".join(grows)


def hours_of_work() -> Iterator[str]:
    """Hours of each piece of work, and how long it then dries or waits."""
    for work in WORK:
        repair = work if isinstance(work, Repair) else None
        yield f"{work.id}: {numbers(work.hours)} h" + named(
            per=times_done(work),
            dries=repair and repair.drying_hours and f"{repair.drying_hours:g} h",
            waits=work.waiting_days and f"{work.waiting_days:g} d",
            again=work.again_after_days and f"after {work.again_after_days} d",
            leaves=repair and repair.restores_to and f"class {repair.restores_to}",
            lasts=repair and repair.lasts_years and f"{repair.lasts_years:g} years",
            workshop=repair and repair.workshop,
        )


def hours_of_places() -> Iterator[str]:
    """Hours in which each place is opened and closed, and minutes of opening it for a look."""
    for place in KNOWLEDGE.places.values():
        hours = f"open {numbers(place.open_hours)} h, close {numbers(place.close_hours)} h"
        yield f"{place.id}: {hours}" + named(look=place.minutes and f"{place.minutes:g} min")


def cautions_of_work() -> Iterator[str]:
    """Warnings of each piece of work and of each place that is opened."""
    raised: list[tuple[Work | Place, tuple[str, ...]]] = [(work, work.cautions) for work in WORK]
    raised += [(place, place.open_cautions) for place in KNOWLEDGE.places.values()]
    for thing, cautions in raised:
        first = isinstance(thing, Repair) and thing.danger_first
        if cautions or first:
            yield f"{thing.id}: {', '.join(sorted(cautions)) or '-'}" + named(
                before_other_work=first
            )


def kinds_of_cautions() -> Iterator[str]:
    """Whom each warning protects."""
    for caution in KNOWLEDGE.cautions.values():
        yield f"{caution.id}: {'people' if caution.people else 'the object'}"


def _answer(outcome: Outcome) -> str:
    soon = outcome.how_soon != outcome.condition and f"{outcome.how_soon}"
    return f"  {outcome.condition} {outcome.label}" + named(
        urgency=soon, breaks=" ".join(outcome.breaks), decay=outcome.decay, ruins=outcome.ruins,
        beyond_repair=bool(outcome.beyond_repair), advise_against=bool(outcome.advise_against),
        significance=outcome.significance,
    )  # fmt: skip


def classes_of_answers() -> Iterator[str]:
    """The class of each answer, worst last, and what else it counts for."""
    for criterion in KNOWLEDGE.criteria.values():
        of = f"{criterion.id}: weight {criterion.weight:g}, {criterion.source or 'no source'}"
        yield of + named(vital=criterion.vital)
        yield from map(_answer, sorted(criterion.outcomes, key=lambda o: o.condition))


def what_answers_tell() -> Iterator[str]:
    """What each answer says about other questions, and what opens a question."""
    for criterion in KNOWLEDGE.criteria.values():
        lines = [f"opened by {o.criterion} from class {o.from_class}" for o in criterion.openings]
        lines += _hints(criterion)
        if lines:
            yield from (criterion.id, *(f"  {line}" for line in lines))


def _hints(criterion: Criterion) -> Iterator[str]:
    for outcome in criterion.outcomes:
        hints = (f"{h.criterion} {h.odds:g} x from {h.from_class}" for h in outcome.hints)
        if outcome.hints:
            yield f"{outcome.label}: {', '.join(hints)}"


def causes_of_symptoms() -> Iterator[str]:
    """Each cause of a symptom: from which class on, how strongly, and how it comes."""
    for symptom in KNOWLEDGE.symptoms.values():
        signs = " ".join(f"{s.criterion} from {s.from_class}" for s in symptom.shown_by)
        yield f"{symptom.id}: leak {symptom.leak:g}" + named(shown_by=signs)
        for cause in symptom.causes:
            which = " or ".join(cause.answers) or f"from {cause.from_class}"
            yield f"  {cause.strength:g} {cause.criterion} {which}" + named(comes=cause.comes)


def marks_of_tests() -> Iterator[str]:
    """What each test must read before work goes on."""
    for test in KNOWLEDGE.hold_points.values():
        if mark := test.passes:
            to_work = mark.at_most_class_to_work
            working = "" if to_work is None else f", {to_work} to work"
            yield f"{test.id}: {mark.criterion} at most class {mark.at_most_class}{working}"


def findings_that_forbid_use() -> Iterator[str]:
    """From which class on a finding means that the object is not used meanwhile, and why."""
    yield from sorted(
        f"{finding}: from class {harm.from_class}, {harm.because}"
        for harm in KNOWLEDGE.trade.use_harms
        for finding in harm.findings
    )


def prices_and_days() -> Iterator[str]:
    """What each material costs, what of it is wasted, and how long it takes to get it."""
    for material in KNOWLEDGE.materials.values():
        between = material.price_range and numbers(material.price_range)
        yield f"{material.id}: {material.price:g} a {material.unit}" + named(
            between=between, wasted=f"{material.waste:g}", days=material.days_to_get,
            kind=material.kind != "material" and material.kind,
            whole=material.whole, once=material.once,
        )  # fmt: skip


LISTS = (
    hours_of_work, hours_of_places, cautions_of_work, kinds_of_cautions, classes_of_answers,
    what_answers_tell, causes_of_symptoms, marks_of_tests,
    findings_that_forbid_use, prices_and_days,
)  # fmt: skip


def by_subsystem(lines: Iterable[str]) -> str:
    """Lines that begin with an id, under a heading for each subsystem."""
    entries: list[str] = []
    for line in lines:
        if line.startswith(" "):
            entries[-1] += f"\n{line}"
        else:
            entries.append(line)
    parts = (
        f"{subsystem}\n{'=' * len(subsystem)}\n" + "\n".join(those)
        for subsystem, those in groupby(entries, key=lambda e: subsystem_of(re.split(":|\n", e)[0]))
    )
    return "\n\n".join(parts) + "\n"


@pytest.mark.parametrize("listed", LISTS, ids=lambda f: f.__name__)
def test_nothing_declared_changes_unseen(listed: Callable[[], Iterator[str]]) -> None:
    shown = by_subsystem(listed())
    assert shown == golden(ROOT / "tests" / "golden" / f"{listed.__name__}.txt", shown)


def dangers_and_cautions() -> str:
    """Every answer that is a danger or raises a caution, one a line."""
    lines = []
    for criterion in KNOWLEDGE.criteria.values():
        for outcome in criterion.outcomes:
            if outcome.danger or outcome.cautions:
                danger = "DANGER" if outcome.danger else "caution"
                raised = ", ".join(sorted(outcome.cautions)) or "-"
                lines.append(f"{criterion.id} = {outcome.label} | {danger} | {raised}")
    return "\n".join(lines) + "\n"


def test_no_danger_or_caution_of_an_answer_is_lost_unseen() -> None:
    shown = dangers_and_cautions()
    assert shown.count("DANGER") > 20
    assert "DANGER | -" not in shown
    assert shown == golden(ROOT / "tests" / "golden" / "dangers_and_cautions.txt", shown)
