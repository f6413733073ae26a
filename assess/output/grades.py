"""Grades and findings as text."""

from __future__ import annotations

from assess.assessment import Assessment
from assess.grading.grades import CLASS_WORDS, Grade
from assess.grading.judgements import Judgement
from assess.knowledge.knowledge_base import subsystem_of
from assess.output.cautions import caution_list
from assess.output.layout import bullets, heading, paragraph, sections, table

MOST_FINDINGS = 15
URGENCY_WORDS = ("long term", "in time", "soon", "at once")


def grades_text(result: Assessment, every: bool = False) -> str:
    """Subsystems and components with class, grade, coverage; the worst findings; what is unseen.

    Args:
        result: the assessment.
        every: show all findings instead of the worst.
    """
    graded = result.graded
    findings = graded.findings
    shown = findings if every else findings[:MOST_FINDINGS]
    found = "Nothing that was seen is out of order."
    if findings:
        found = f"{heading('Findings, worst first', '-')}\n{_finding_table(shown)}"
    if len(findings) > len(shown):
        found += f"\n... and {len(findings) - len(shown)} more (assess grade --all)"
    raised = (c for f in findings for c in f.outcome.cautions)
    cautions = caution_list(raised, result.knowledge)
    return sections(
        [title(result), cautions, _grade_table(result), found, _unseen(result), _assumed(result)]
    )


def title(result: Assessment) -> str:
    """The job's title and what instrument it is about."""
    job = result.job
    name = job.title or "Instrument without a title"
    about = job.instrument.description.strip()
    if job.date:
        about = f"{about} Inspected on {job.date.day} {job.date:%B %Y}.".strip()
    return heading(name) + (f"\n{paragraph(about)}" if about else "")


def _grade_table(result: Assessment) -> str:
    rows: list[list[str]] = []
    for subsystem in result.graded.subsystems.values():
        if not subsystem.assessed:
            rows.append([subsystem.title, "-", "", "not assessed", ""])
            continue
        rows.append([subsystem.title, *_grade_cells(result, subsystem.id, subsystem.grade)])
        for component, grade in subsystem.components.items():
            name = result.knowledge.components.get(component)
            label = f"  {name.title if name else component}"
            rows.append([label, *_grade_cells(result, component, grade)])
    whole = result.graded.instrument
    rows.append(["Whole instrument", *_grade_cells(result, "instrument", whole)])
    headers = ["Part", "Grade", "Likely", "Condition", "Seen"]
    return table(rows, headers, [30, 9, 6, 20, 5], right=(1, 2, 4))


def _grade_cells(result: Assessment, name: str, grade: Grade) -> list[str]:
    if grade.weight == 0:
        return ["-", "", "not part of it", ""]
    expected = result.expected.get(name)
    likely = "" if expected is None else f"{expected:.0f}"
    return [grade_span(grade), likely, condition(grade), f"{100 * grade.coverage:.0f} %"]


def grade_span(grade: Grade) -> str:
    """A grade with its bounds, in whole points."""
    low, high = round(grade.lower), round(grade.upper)
    return f"{low}" if low == high else f"{low} to {high}"


def condition(grade: Grade) -> str:
    """The condition class by number and word, with bounds."""
    best, worst = grade.best_class, grade.worst_class
    if best == worst:
        return f"{best} {CLASS_WORDS[best]}"
    return f"{best} to {worst}, open"


def _finding_table(findings: list[Judgement]) -> str:
    rows = []
    for finding in findings:
        outcome = finding.outcome
        said = f"{finding.criterion.asks}: {finding.given}"
        if finding.criterion.measured and outcome.says:
            said += f" ({outcome.says})"
        if finding.note:
            said += f"\n  noted: {finding.note}"
        if outcome.danger:
            said = f"DANGER. {said}"
        rows.append([outcome.condition, URGENCY_WORDS[outcome.how_soon], f"{said}\n  {finding.id}"])
    return table(rows, ["Class", "Urgency", "Finding and evidence"], [5, 9, 58], right=(0,))


def _unseen(result: Assessment) -> str:
    unseen = result.graded.unseen
    if not unseen:
        return "Everything that applies has been seen."
    counts: dict[str, int] = {}
    for judgement in unseen:
        subsystem = result.knowledge.subsystems[subsystem_of(judgement.id)].title
        counts[subsystem] = counts.get(subsystem, 0) + 1
    listed = ", ".join(f"{title} {n}" for title, n in counts.items())
    total = len(unseen)
    text = f"Not seen: {total} {'criterion' if total == 1 else 'criteria'} ({listed}). "
    text += "Each counts as anything from its best to its worst. Weightiest:"
    lines = [f"{j.criterion.asks} [{j.id}]" for j in unseen[:5]]
    return f"{paragraph(text)}\n{bullets(lines)}"


def _assumed(result: Assessment) -> str:
    assumed = result.configuration.assumed
    if not assumed:
        return ""
    listed = ", ".join(f"{name} {value}" for name, value in assumed.items())
    return paragraph(f"Assumed, since the job file is silent: {listed}.")
