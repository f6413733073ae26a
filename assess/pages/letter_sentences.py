"""Sentences of the letter to the owner, from an assessment and the words of the trade."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import islice

from assess.assessment import Assessment
from assess.base.wording import percent
from assess.grading.grades import Grade, SubsystemGrade
from assess.grading.judgements import Judgement
from assess.inspection.hidden_defects import Hidden
from assess.knowledge.further_unit import declared_row
from assess.knowledge.knowledge_base import Knowledge
from assess.knowledge.letter_words import FindingWords, LetterWords
from assess.knowledge.steps import subsystem_of
from assess.output.cautions import in_full, in_order
from assess.output.layout import capital, money_span
from assess.output.looks import hidden_name

SERIOUS = 2
"""From this condition class on, the letter names a finding."""
MOST_CLAUSES = 3
NO_WORK = "no work needed"
MOST_PARTS = 5
MOST_GROUNDS = 3
MOST_HIDDEN = 3
LEAST_SHARE = 0.02
"""Something that adds less than this share of the highest price is left to the report."""
NOTHING_HIDDEN = "We know of nothing else that is likely to add much."
MOSTLY = 0.5
CONDITIONS = ("in good order", "in fair order", "work needed", "much work needed")
MOSTLY_GOOD = "mostly in good order"
TOO_LITTLE = "too little seen to judge"
LEAST_CHANCE = 0.001
MOST_OF_ONE = 2
"""How many findings of one component a sentence names."""
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
            return NO_WORK
        if shown.startswith("0 to "):
            return f"up to {shop.letter.money(shown.removeprefix('0 to '), shop.currency)}"
        return shop.letter.money(shown, shop.currency)

    def part(self, component: str) -> str:
        """The owner's name of a component."""
        declared = self.knowledge.components.get(component)
        unit = self.unit(component) if len(self.units_of(component)) > 1 else ""
        name = self.words.parts.get(declared_row(component))
        if name is None:
            return declared.title if declared else component
        return f"{name} ({unit})" if unit else name

    def units_of(self, component: str) -> set[str]:
        """The components that are the same part in every unit that has it."""
        return {
            name
            for subsystem in self.result.graded.subsystems.values()
            for name, grade in subsystem.components.items()
            if grade.weight > 0 and declared_row(name) == declared_row(component)
        }

    def unit(self, identifier: str) -> str:
        """The unit that a component or criterion belongs to; empty where there is only one."""
        knowledge = self.knowledge
        for unit in knowledge.further_units:
            if unit.is_own(identifier):
                return unit.title
            own = unit.own(identifier)
            if own in knowledge.components or own in knowledge.criteria:
                return knowledge.units[unit.kind].first
        return ""

    def is_part(self, component: str) -> bool:
        """Whether a component is a thing, and not dirt or a room."""
        declared = self.knowledge.components.get(component)
        return declared is not None and declared.part

    def of_finding(self, criterion: str) -> FindingWords:
        """The owner's words of a criterion; those of the first unit for a further one."""
        return self.words.findings.get(declared_row(criterion), NOTHING_SAID)

    def clause(self, finding: Judgement) -> str:
        """What was found, as a clause; empty where the letter leaves it out."""
        outcome = finding.outcome
        if outcome.condition == 0:
            return ""
        return self.of_finding(finding.id).clause(outcome.label, outcome.condition)

    def hidden(self, line: Hidden) -> str:
        """What may be hidden, as the owner reads it."""
        return self.about(line.criterion) or hidden_name(self.result, line)

    def about(self, criterion: str) -> str:
        """What a criterion is about, as the owner reads it; empty where there are no words."""
        about, unit = self.of_finding(criterion).about, self.unit(criterion)
        return f"{about} ({unit})" if about and unit else about


def chance(share: float) -> str:
    """How likely something is, never as certain: what was sampled may still be otherwise.

    >>> chance(1.0), chance(0.0), chance(0.5)
    ('over 99 %', 'under 1 %', '50 %')
    """
    return percent(min(max(share, LEAST_CHANCE), 1 - LEAST_CHANCE))


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
    lines = [
        f"We looked at it{when} and saw {percent(whole.coverage)} of what there is to check.",
        *_identity_said(phrases),
    ]
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
        lines.append(f"Not looked at: {listed(_named(unseen, phrases))}.")
    if partly:
        lines.append(f"Looked at only in part: {listed(_named(partly, phrases))}.")
    if not unseen and not partly:
        rest = "" if whole.coverage >= 1 else ", though not every detail of it"
        lines.append(f"We looked at every part{rest}.")
    left = [s.title for s in result.graded.subsystems.values() if not s.assessed]
    if left:
        lines.append(f"Not assessed at all: {listed(left)}.")
    return tuple(lines)


def _identity_said(phrases: Phrases) -> list[str]:
    """Who made it and when, as far as it says so itself or somebody has found out."""
    known = phrases.result.job.instrument.identity
    named = {"maker": known.maker, "model": known.model, "number": known.serial, "year": known.year}
    said = [f"{what} {value}" for what, value in named.items() if value]
    return [f"What we know of its origin: {', '.join(said)}."] if said else []


def _named(components: Iterable[str], phrases: Phrases) -> list[str]:
    """The owner's names; a part of which all units are there has its name once, without a unit."""
    found = list(components)

    def name(component: str) -> str:
        every = phrases.units_of(component) <= set(found)
        return phrases.words.parts.get(declared_row(component), "") if every else ""

    return list(dict.fromkeys(name(c) or phrases.part(c) for c in found))


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
    fresh = [clause for clause in clauses if clause not in _causes(phrases)]
    found = f"{capital(_joined(fresh))}." if fresh else ""
    return StateLine(name, _condition(grade, bool(clauses)), percent(grade.coverage), found)


def _condition(grade: Grade, faulty: bool) -> str:
    """The condition in words: no better than what was seen of it allows."""
    if grade.coverage < MOSTLY:
        bad = grade.best_class >= SERIOUS
        return f"{CONDITIONS[grade.best_class]}, as far as we saw" if bad else TOO_LITTLE
    if faulty and grade.best_class < SERIOUS:
        return MOSTLY_GOOD
    return CONDITIONS[grade.best_class]


def _joined(clauses: Sequence[str]) -> str:
    """Clauses as one sentence, without its stop."""
    return ", and ".join(filter(None, (", ".join(clauses[:-1]), clauses[-1])))


def _clauses(subsystem: str, phrases: Phrases) -> list[str]:
    """The worst findings of a subsystem, from as many components as there are."""
    serious = [
        f
        for f in phrases.result.graded.findings
        if subsystem_of(f.id) == subsystem and f.outcome.condition >= SERIOUS
    ]
    said = [(f.criterion.component, clause) for f in serious if (clause := phrases.clause(f))]
    of_each: dict[str, list[str]] = {}
    for component, clause in said:
        of_each.setdefault(component, []).append(clause)
    ranked = [c[n] for n in range(MOST_OF_ONE) for c in of_each.values() if n < len(c)]
    if not ranked:
        parts = [f.criterion.component for f in serious if phrases.is_part(f.criterion.component)]
        return [f"there is work to do on {listed(_named(parts, phrases))}"] if parts else []
    return list(islice(dict.fromkeys(ranked), MOST_CLAUSES))


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
        and phrases.is_part(component)
    ]
    names = _named(sound, phrases)
    return f"In good order, as far as we saw: {listed(names)}." if names else ""


def _causes(phrases: Phrases) -> set[str]:
    """What is said already as the cause of a complaint."""
    judgements = phrases.result.graded.judgements
    found = [c.criterion for explained in phrases.result.complaints for c in explained.found]
    return {phrases.clause(judgements[c]) for c in found}


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
            cause = f"The cause: {_joined(list(dict.fromkeys(clauses))[:MOST_CLAUSES])}."
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
    return answer.replace("{because}", _joined(use.because) if use.because else "")


def household_said(phrases: Phrases) -> tuple[str, ...]:
    """What the household should know of, dangers that were found first."""
    knowledge = phrases.knowledge
    findings = phrases.result.graded.findings
    dangers = [c for f in findings if f.outcome.danger for c in f.outcome.cautions]
    others = [
        c
        for f in findings
        for c in f.outcome.cautions
        if c not in phrases.words.bench_cautions.get(declared_row(f.id), ())
    ]
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
    scope = result.verdict.plan_scope
    highest = next(k.cost.p90 for k in result.verdict.likely if k.scope == scope)
    found = [h for h in result.hidden(scope) if h.cost >= max(1.0, LEAST_SHARE * highest)]
    return tuple(
        f"{capital(phrases.hidden(h))}: {chance(h.chance)} likely, and would add about "
        f"{phrases.money(h.cost)}."
        for h in found[:MOST_HIDDEN]
    )
