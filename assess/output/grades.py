"""Grades and findings as text."""

from __future__ import annotations

from assess.assessment import Assessment
from assess.base.wording import counted
from assess.grading.grades import CLASS_WORDS, Grade
from assess.grading.judgements import Judgement
from assess.knowledge.steps import subsystem_of
from assess.output.cautions import caution_list, caution_titles, in_order
from assess.output.layout import (
    bullets,
    capital,
    heading,
    paragraph,
    section,
    sections,
    table,
)

MOST_FINDINGS = 15
MOST_UNSEEN = 5
URGENCY_WORDS = ("long term", "within years", "soon", "at once")


def grades_text(result: Assessment, every: bool = False, ids: bool = False) -> str:
    """The whole, then findings, then subsystems and components, then what is not seen.

    Args:
        result: the assessment.
        every: show all findings and everything that was assumed.
        ids: show the ids of findings and criteria.
    """
    return sections(
        [
            heading(title(result)),
            paragraph(identity_line(result)),
            paragraph(whole_line(result)),
            _dangers(result),
            _findings(result, every, ids),
            section("Parts", _grade_table(result)),
            _unseen(result, ids),
            _assumed(result, every),
            _cautions(result),
        ]
    )


def title(result: Assessment) -> str:
    """The job's title."""
    return result.job.title or f"{capital(result.trade.noun)} without a title"


def description(result: Assessment) -> str:
    """Which object it is, what the job file says of it, and when it was inspected."""
    job = result.job
    about = job.instrument.description.strip()
    if job.date:
        about = f"{about} Inspected on {job.date.day} {job.date:%B %Y}.".strip()
    parts = [identity_line(result), *_more_of_it(result), about]
    return "\n".join(paragraph(part) for part in parts if part)


def identity_line(result: Assessment) -> str:
    """Maker, model, serial number and year, as far as the job file gives them."""
    known = result.job.instrument.identity
    serial = f"no. {known.serial}" if known.serial != "" else ""
    year = str(known.year) if known.year else ""
    return ", ".join(part for part in (known.maker, known.model, serial, year) if part)


def _more_of_it(result: Assessment) -> list[str]:
    known = result.job.instrument.identity
    photographs = {file for files in result.job.photographs.values() for file in files}
    lines = []
    if known.label:
        lines.append(f'Label: "{known.label}".')
    if known.provenance:
        lines.append(f"Provenance: {known.provenance.rstrip('.')}.")
    if photographs:
        lines.append(f"{counted(len(photographs), 'photograph')}.")
    return lines


def whole_line(result: Assessment) -> str:
    """Grade, condition and share seen of the whole."""
    whole = result.graded.instrument
    if whole.coverage == 0:
        return f"Whole {result.trade.noun}: nothing has been looked at yet."
    return (
        f"Whole {result.trade.noun}: grade {expected_span(result)} of 100; condition "
        f"{condition(whole)}; {seen(whole)} seen."
    )


def expected_span(result: Assessment) -> str:
    """The grade of the whole with its bounds, and what to expect."""
    expected, bounds = result.expected.whole, grade_span(result.graded.instrument)
    return (
        bounds if expected is None or " to " not in bounds else f"{bounds}, likely {expected:.0f}"
    )


def grade_span(grade: Grade) -> str:
    """A grade with its bounds, in whole points."""
    low, high = round(grade.lower), round(grade.upper)
    return f"{low}" if low == high else f"{low} to {high}"


def condition(grade: Grade) -> str:
    """The condition class by number and word, or its bounds."""
    best, worst = grade.best_class, grade.worst_class
    if best == worst:
        return f"{best} {CLASS_WORDS[best]}"
    if (best, worst) == (0, len(CLASS_WORDS) - 1):
        return "not known yet"
    return f"{best} to {worst}, partly seen"


def seen(grade: Grade) -> str:
    """The share of the weight that was seen."""
    return f"{100 * grade.coverage:.0f} %"


def _dangers(result: Assessment) -> str:
    """The cautions of dangers that were found, in full."""
    raised = [c for f in result.graded.findings if f.outcome.danger for c in f.outcome.cautions]
    return caution_list(raised, result.knowledge)


def _cautions(result: Assessment) -> str:
    """The other cautions that findings raise, by their titles."""
    findings = result.graded.findings
    in_full = [c for f in findings if f.outcome.danger for c in f.outcome.cautions]
    shown = {result.knowledge.cautions[c].title for c in in_order(in_full, result.knowledge)}
    other = [
        c
        for f in findings
        for c in f.outcome.cautions
        if result.knowledge.cautions[c].title not in shown
    ]
    return caution_titles(other, result.knowledge, "assess plan.")


def _findings(result: Assessment, every: bool, ids: bool) -> str:
    findings = result.graded.findings
    if not findings:
        whole = result.graded.instrument
        return "" if whole.coverage == 0 else f"No faults in what was seen ({seen(whole)})."
    shown = findings if every else findings[:MOST_FINDINGS]
    more = len(findings) - len(shown)
    rows = [_finding_row(finding, ids) for finding in shown]
    body = table(rows, ["Class", "Urgency", "Finding and evidence"], [5, 12, 55], right=(0,))
    rest = f"... and {more} more: --all" if more else ""
    return section("Findings, worst first", body, rest)


def _finding_row(finding: Judgement, ids: bool) -> list[object]:
    outcome = finding.outcome
    said = f"{finding.criterion.asks}: {finding.given}"
    if finding.criterion.measured and outcome.says:
        said += f" ({outcome.says})"
    if outcome.danger:
        said = f"DANGER. {said}"
    if finding.note:
        said += f"\n  Note: {finding.note}"
    if ids:
        said += f"\n  {finding.id}"
    return [outcome.condition, URGENCY_WORDS[outcome.how_soon], said]


def _grade_table(result: Assessment) -> str:
    rows: list[list[str]] = []
    for subsystem in result.graded.subsystems.values():
        if not subsystem.assessed:
            rows.append([subsystem.title, "-", "", "not assessed", ""])
            continue
        expected = result.expected.subsystems.get(subsystem.id)
        rows.append([subsystem.title, *grade_cells(subsystem.grade, expected)])
        for component, grade in subsystem.components.items():
            if grade.weight > 0:
                name = result.knowledge.components.get(component)
                label = f"  {name.title if name else component}"
                expected = result.expected.components.get(component)
                rows.append([label, *grade_cells(grade, expected)])
    headers = ["Part", "Grade", "Likely", "Condition", "Seen"]
    return table(rows, headers, [30, 9, 6, 20, 5], right=(1, 2, 4))


def grade_cells(grade: Grade, expected: float | None) -> list[str]:
    """Grade with bounds, what it likely is, condition and share seen."""
    if grade.weight == 0:
        return ["-", "", "nothing applies", ""]
    likely = "" if expected is None else f"{expected:.0f}"
    return [grade_span(grade), likely, condition(grade), seen(grade)]


def _unseen(result: Assessment, ids: bool) -> str:
    unseen = result.graded.unseen
    if not unseen:
        return "Everything that applies has been seen."
    counts: dict[str, int] = {}
    for judgement in unseen:
        name = result.knowledge.subsystems[subsystem_of(judgement.id)].title
        counts[name] = counts.get(name, 0) + 1
    listed = ", ".join(f"{name} {n}" for name, n in counts.items())
    text = (
        f"{counted(len(unseen), 'question', 'questions')} open ({listed}). Each may be anything "
        "from best to worst. Most important:"
    )
    lines = [f"{j.criterion.asks}{f' [{j.id}]' if ids else ''}" for j in unseen[:MOST_UNSEEN]]
    return section("Not seen yet", paragraph(text), bullets(lines))


def assumed_said(result: Assessment, every: bool) -> list[str]:
    """What the job file does not state: what may well be otherwise, or with ``every`` all of it."""
    knowledge, assumed = result.knowledge, result.configuration.assumed
    lines = [
        f"{feature.asks}: {_feature_said(result, feature.id)}"
        for feature in knowledge.features.values()
        if feature.id in assumed and (every or feature.chance)
    ]
    if every:
        lines += [
            f"{fact.asks}: {assumed[fact.id]}{'' if fact.unit == 'count' else f' {fact.unit}'}"
            for fact in knowledge.facts.values()
            if fact.id in assumed
        ]
    return lines


def _assumed(result: Assessment, every: bool) -> str:
    lines = assumed_said(result, every)
    return section("Assumed, because the job file does not say", bullets(lines)) if lines else ""


def _feature_said(result: Assessment, feature: str) -> str:
    value = result.configuration.assumed[feature]
    text = result.knowledge.features[feature].options.get(value, value)
    return text.partition(":")[0]
