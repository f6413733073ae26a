"""Sentences of the letter to the owner, from an assessment and the words of the trade."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import islice

from assess.assessment import Assessment
from assess.base.wording import percent
from assess.grading.grades import SubsystemGrade
from assess.grading.judgements import Judgement
from assess.inspection.hidden_defects import Hidden
from assess.knowledge.knowledge_base import Knowledge
from assess.knowledge.letter_words import FindingWords, LetterWords
from assess.knowledge.steps import subsystem_of
from assess.output.cautions import in_full, in_order
from assess.output.layout import capital, money_span
from assess.output.looks import hidden_name

SERIOUS = 2
"""From this condition class on, the letter names a finding."""
MOST_CLAUSES = 3
MOST_PARTS = 5
MOST_GROUNDS = 3
MOST_HIDDEN = 3
LEAST_CHANCE = 0.05
"""Something less likely than this is left to the report."""
MOSTLY = 0.5
CONDITIONS = ("in good order", "in fair order", "work needed", "much work needed")
MOSTLY_GOOD = "in good order, with an exception"
NOTHING_SAID = FindingWords()


@dataclass(frozen=True)
class Phrases:
    """The words of the letter with the forms of the workshop's numbers.

    Attributes:
        result: the assessment that the letter is about.
    """

    result: Assessment

    @property
    def words(self) -> LetterWords:
        """The trade's words of the letter."""
        return self.result.trade.letter

    @property
    def knowledge(self) -> Knowledge:
        """What the plugins declare."""
        return self.result.knowledge

    def money(self, amount: float) -> str:
        """An amount in whole units."""
        return self.price(amount, amount)

    def price(self, low: float, high: float) -> str:
        """A range of money in whole units, in the forms of the workshop."""
        shop, shown = self.result.workshop, money_span(low, high)
        if shown == "0":
            return "nothing to pay"
        if shown.startswith("0 to "):
            return f"up to {shop.letter.money(shown.removeprefix('0 to '), shop.currency)}"
        return shop.letter.money(shown, shop.currency)

    def part(self, component: str) -> str:
        """The owner's name of a component."""
        declared = self.knowledge.components.get(component)
        title = declared.title if declared else component
        first = component.partition("-")[0]
        name = self.words.parts.get(first, title)
        return f"{name} ({title})" if first != component and first in self.words.parts else name

    def of_finding(self, criterion: str) -> FindingWords:
        """The owner's words of a criterion; those of the first unit for a further one."""
        return self.words.findings.get(criterion.partition("-")[0], NOTHING_SAID)

    def clause(self, finding: Judgement) -> str:
        """What was found, as a clause; empty where the letter leaves it out."""
        outcome = finding.outcome
        if outcome.condition == 0:
            return ""
        return self.of_finding(finding.id).clause(outcome.label, outcome.condition)

    def hidden(self, line: Hidden) -> str:
        """What may be hidden, as the owner reads it."""
        return self.of_finding(line.criterion).about or hidden_name(self.result, line)


def listed(names: Sequence[str], most: int = MOST_PARTS, more: str = "other part") -> str:
    """Names as a list in a sentence.

    >>> listed(["a", "b", "c"]), listed(["a", "b", "c"], most=1)
    ('a, b and c', 'a and 2 other parts')
    """
    shown, rest = list(names[:most]), len(names) - most
    if rest == 1:
        shown, rest = list(names), 0
    if rest > 0:
        shown.append(f"{rest} {more}s")
    return " and ".join(filter(None, (", ".join(shown[:-1]), shown[-1]))) if shown else ""


@dataclass(frozen=True)
class StateLine:
    """One subsystem: its name, its condition in words, the share seen, and what was found."""

    name: str
    condition: str
    seen: str
    found: str


def looked_at(phrases: Phrases) -> tuple[str, ...]:
    """What was looked at, and what was not."""
    result = phrases.result
    whole, day = result.graded.instrument, result.job.date
    when = f" on {result.workshop.letter.date(day)}" if day else ""
    if whole.coverage == 0:
        return ("Nothing has been looked at yet.",)
    lines = [f"We looked at it{when} and saw {percent(whole.coverage)} of what there is to check."]
    grades = {
        component: grade
        for subsystem in result.graded.subsystems.values()
        if subsystem.assessed
        for component, grade in subsystem.components.items()
        if grade.weight > 0
    }
    unseen = [c for c, grade in grades.items() if grade.coverage == 0]
    partly = [c for c, grade in grades.items() if 0 < grade.coverage < MOSTLY]
    if unseen:
        lines.append(f"We have not seen {listed(_named(unseen, phrases))}.")
    if partly:
        lines.append(f"We have seen little of {listed(_named(partly, phrases))}.")
    if not unseen and not partly:
        rest = "" if whole.coverage >= 1 else ", though not every detail of it"
        lines.append(f"We looked at every part{rest}.")
    left = [s.title for s in result.graded.subsystems.values() if not s.assessed]
    if left:
        lines.append(f"Not assessed at all: {listed(left)}.")
    return tuple(lines)


def _named(components: Iterable[str], phrases: Phrases) -> list[str]:
    return list(dict.fromkeys(phrases.part(c) for c in components))


def state_lines(phrases: Phrases) -> tuple[StateLine, ...]:
    """The state of each subsystem, its worst findings in the owner's words."""
    return tuple(
        _state_line(subsystem, phrases)
        for subsystem in phrases.result.graded.subsystems.values()
        if subsystem.assessed and subsystem.grade.weight > 0
    )


def _state_line(subsystem: SubsystemGrade, phrases: Phrases) -> StateLine:
    name = phrases.words.subsystems.get(subsystem.id, subsystem.title)
    grade = subsystem.grade
    if grade.coverage == 0:
        return StateLine(name, "not looked at yet", "0 %", "")
    clauses = _clauses(subsystem.id, phrases)
    condition = CONDITIONS[grade.best_class]
    if clauses and grade.best_class < SERIOUS:
        condition = MOSTLY_GOOD
    if grade.coverage < MOSTLY:
        condition = f"{condition}, as far as we saw"
    found = f"{capital(listed(clauses))}." if clauses else ""
    return StateLine(name, condition, percent(grade.coverage), found)


def _clauses(subsystem: str, phrases: Phrases) -> list[str]:
    """The worst findings of a subsystem, from as many components as there are."""
    serious = [
        f
        for f in phrases.result.graded.findings
        if subsystem_of(f.id) == subsystem and f.outcome.condition >= SERIOUS
    ]
    said = [(f.criterion.component, clause) for f in serious if (clause := phrases.clause(f))]
    worst: dict[str, str] = {}
    for component, clause in said:
        worst.setdefault(component, clause)
    clauses = dict.fromkeys([*worst.values(), *(clause for _, clause in said)])
    if not clauses and serious:
        parts = _named((f.criterion.component for f in serious), phrases)
        return [f"there is work to do on {listed(parts)}"]
    return list(islice(clauses, MOST_CLAUSES))


def in_order_said(phrases: Phrases) -> str:
    """What works: parts of which most was seen, and no fault."""
    graded = phrases.result.graded
    faulty = {f.criterion.component for f in graded.findings if f.outcome.condition >= SERIOUS}
    sound = [
        component
        for subsystem in graded.subsystems.values()
        for component, grade in subsystem.components.items()
        if grade.weight > 0
        and grade.coverage >= MOSTLY
        and grade.best_class == 0
        and component not in faulty
        and getattr(phrases.knowledge.components.get(component), "part", False)
    ]
    names = _named(sound, phrases)
    return f"In good order, as far as we saw: {listed(names)}." if names else ""


def complaints_said(phrases: Phrases) -> tuple[str, ...]:
    """What was complained of, and what causes it."""
    lines = []
    for explained in phrases.result.complaints:
        words = explained.complaint.words or explained.symptom.asks
        found = [phrases.result.graded.judgements[c.criterion] for c in explained.found]
        clauses = [clause for f in found if (clause := phrases.clause(f))]
        likely = [phrases.of_finding(c.criterion).about for c in explained.causes if not c.seen]
        about = [name for name in dict.fromkeys(likely) if name]
        if clauses:
            cause = f"The cause: {listed(list(dict.fromkeys(clauses)), MOST_CLAUSES, 'fault')}."
        elif found:
            cause = f"We found the cause in {listed(_components_of(found, phrases))}."
        elif about:
            cause = f"We do not know the cause yet. It may be {' or '.join(about[:2])}."
        else:
            cause = "We do not know the cause yet."
        lines.append(f"You told us: \u201c{words}\u201d. {cause}")
    return tuple(lines)


def _components_of(findings: Iterable[Judgement], phrases: Phrases) -> list[str]:
    return _named((f.criterion.component for f in findings), phrases)


def meanwhile_said(phrases: Phrases) -> str:
    """Whether it may be used until something is done, and what use would do."""
    use = phrases.result.interim_use
    answer: str = getattr(phrases.words.meanwhile, use.answer)
    because = f" {capital(listed(use.because, MOST_GROUNDS))}." if use.because else ""
    return f"{answer}{because}"


def household_said(phrases: Phrases) -> tuple[str, ...]:
    """What the household should know of, dangers that were found first."""
    knowledge = phrases.knowledge
    findings = phrases.result.graded.findings
    dangers = [c for f in findings if f.outcome.danger for c in f.outcome.cautions]
    others = [c for f in findings for c in f.outcome.cautions]
    sentences = {
        knowledge.cautions[c].title: words
        for c, words in phrases.words.household.items()
        if c in knowledge.cautions
    }
    first = in_order(dangers, knowledge)
    shown = [*first, *(c for c in in_order(others, knowledge) if c not in first)]
    lines = []
    for caution in (knowledge.cautions[c] for c in shown):
        in_danger = any(knowledge.cautions[c].title == caution.title for c in first)
        lines.append(sentences.get(caution.title, in_full(caution) if in_danger else ""))
    return tuple(dict.fromkeys(filter(None, lines)))


def hidden_said(phrases: Phrases) -> tuple[str, ...]:
    """What may still turn up, how likely that is, and what it would add."""
    result = phrases.result
    likely = [h for h in result.hidden(result.verdict.plan_scope) if h.chance >= LEAST_CHANCE]
    return tuple(
        f"{capital(phrases.hidden(h))}: {percent(h.chance)} likely, and would add about "
        f"{phrases.money(h.cost)}."
        for h in likely[:MOST_HIDDEN]
    )
