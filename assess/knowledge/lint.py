"""Checks of declared knowledge beyond its form: probable mistakes, each in one line."""

from __future__ import annotations

from collections.abc import Iterator

from assess.base.errors import did_you_mean
from assess.knowledge.criteria import Criterion, Outcome
from assess.knowledge.declaration import Fact
from assess.knowledge.knowledge_base import Knowledge
from assess.knowledge.model_base import SCOPES, Scope
from assess.knowledge.precedence_graph import READY, all_superseded, reasons_of_order
from assess.knowledge.steps import subsystem_of
from assess.knowledge.work import Link, Place, Work

MAJOR = 3
"""The class of a finding that keeps an object out of use unless something says otherwise."""


def doubts(knowledge: Knowledge) -> list[str]:
    """Everything in the joint knowledge that is probably a mistake, in words."""
    return [
        *_misspelt_references(knowledge),
        *_idle_hold_points(knowledge),
        *_dropped_calls(knowledge),
        *_unreached(knowledge),
        *_foreign_supersedes(knowledge),
        *_unknown_tags(knowledge),
        *_impossible_tellings(knowledge),
        *_unknown_facts(knowledge),
        *_silent_on_use(knowledge),
        *_unknown_causing_answers(knowledge),
        *_harmless_signs(knowledge),
    ]


def _misspelt_references(knowledge: Knowledge) -> Iterator[str]:
    """References to what an installed subsystem does not declare."""
    for dropped in knowledge.dropped:
        if dropped.installed:
            yield f"{dropped.owner}: {dropped.field} names {dropped.target!r}, but {dropped.reason}"


def _idle_hold_points(knowledge: Knowledge) -> Iterator[str]:
    """Hold points that nothing waits for."""
    order = reasons_of_order(knowledge)
    holding = {before for before, after in order if after != READY}
    for hold in knowledge.hold_points.values():
        if hold.id not in holding and hold.phase == "work":
            yield f"{hold.id}: nothing waits for this hold point; say what, with 'before'"


def _dropped_calls(knowledge: Knowledge) -> Iterator[str]:
    """A worse answer that asks for less work than a better one of the same criterion."""
    for criterion in knowledge.criteria.values():
        for worse in criterion.outcomes:
            for better in criterion.outcomes:
                if worse.condition > better.condition:
                    for scope in SCOPES:
                        yield from _less_work(knowledge, criterion, worse, better, scope)


def _less_work(
    knowledge: Knowledge, criterion: Criterion, worse: Outcome, better: Outcome, scope: Scope
) -> Iterator[str]:
    have = set(worse.calls(scope))
    for call in worse.calls(scope):
        have |= all_superseded(call, knowledge)
    for repair in better.calls(scope):
        if repair not in have:
            yield (
                f'{criterion.id}: "{worse.label}" is worse than "{better.label}" '
                f"but no longer calls for {repair} ({scope})"
            )


def _unreached(knowledge: Knowledge) -> Iterator[str]:
    reached = _called(knowledge) | {link.step for link in _pulling_links(knowledge)}
    for repair in knowledge.repairs.values():
        if repair.when == "called" and repair.id not in reached:
            yield f"{repair.id}: no outcome calls for it and no step needs it"


def _called(knowledge: Knowledge) -> set[str]:
    return {
        repair
        for criterion in knowledge.criteria.values()
        for outcome in criterion.outcomes
        for scope in SCOPES
        for repair in outcome.calls(scope)
    }


def _pulling_links(knowledge: Knowledge) -> Iterator[Link]:
    for work in (*knowledge.repairs.values(), *knowledge.hold_points.values()):
        yield from work.requires
    for repair in knowledge.repairs.values():
        yield from repair.entails
    for place in knowledge.places.values():
        yield from (*place.open_requires, *place.close_requires, *place.close_entails)


def _foreign_supersedes(knowledge: Knowledge) -> Iterator[str]:
    for repair in knowledge.repairs.values():
        for lesser in repair.supersedes:
            other = knowledge.repairs[lesser]
            if other.component != repair.component:
                yield f"{repair.id} supersedes {lesser}, which is work on another component"


def _unknown_tags(knowledge: Knowledge) -> Iterator[str]:
    known = set(knowledge.features)
    known |= {option for f in knowledge.features.values() for option in f.options}
    known |= {kind.stacked for kind in knowledge.units.values() if kind.stacked}
    things: list[Criterion | Work | Place] = [
        *knowledge.criteria.values(),
        *knowledge.repairs.values(),
        *knowledge.hold_points.values(),
        *knowledge.places.values(),
    ]
    for thing in things:
        for tag in (*thing.needs, *thing.excludes):
            if tag not in known:
                yield f"{thing.id}: no feature is called {tag!r}; {did_you_mean(tag, known)}"


def _impossible_tellings(knowledge: Knowledge) -> Iterator[str]:
    for criterion in knowledge.criteria.values():
        for feature, value in ((f, v) for o in criterion.outcomes for f, v in o.tells.items()):
            found = knowledge.features.get(feature)
            if criterion.measured or not found or value not in (found.usual, *found.others):
                yield f"{criterion.id}: tells that {feature} is {value!r}, which is impossible"


def _unknown_facts(knowledge: Knowledge) -> Iterator[str]:
    for criterion in knowledge.criteria.values():
        yield from _missing_facts(criterion, criterion.share_of, knowledge)
    repairs = knowledge.repairs.values()
    for repair in repairs:
        yield from _missing_facts(repair, repair.per_fact, knowledge)
    things: tuple[Place | Work, ...] = (
        *knowledge.places.values(),
        *repairs,
        *knowledge.hold_points.values(),
    )
    for fact in knowledge.facts.values():
        yield from _missing_facts(fact, fact.product_of, knowledge)
    for thing in things:
        if thing.hours_per:
            yield from _missing_facts(thing, thing.hours_per.facts, knowledge)


def _missing_facts(
    owner: Criterion | Place | Work | Fact, facts: tuple[str, ...], knowledge: Knowledge
) -> Iterator[str]:
    for fact in facts:
        if fact not in knowledge.facts:
            hint = did_you_mean(fact, knowledge.facts)
            yield f"{owner.id}: no fact is called {fact!r}; {hint}"


def _silent_on_use(knowledge: Knowledge) -> Iterator[str]:
    """Major findings that do not say whether the object can be used with them."""
    declaring = {subsystem_of(requirement) for requirement in knowledge.requirements}
    for criterion in knowledge.criteria.values():
        for outcome in criterion.outcomes if subsystem_of(criterion.id) in declaring else ():
            if outcome.condition == MAJOR and not (outcome.stops_use or outcome.breaks_none):
                yield (
                    f'{criterion.id}: "{outcome.label}" is class {MAJOR}; say which requirement '
                    "it breaks (breaks), or why it breaks none (breaks_none)"
                )


def _unknown_causing_answers(knowledge: Knowledge) -> Iterator[str]:
    """Causes of symptoms that name an answer that their criterion does not have."""
    for symptom in knowledge.symptoms.values():
        for cause in symptom.causes:
            labels = [o.label for o in knowledge.criteria[cause.criterion].outcomes]
            for answer in cause.answers:
                if answer not in labels:
                    hint = did_you_mean(answer, labels)
                    yield f"{symptom.id}: {cause.criterion} has no answer {answer!r}; {hint}"


def _harmless_signs(knowledge: Knowledge) -> Iterator[str]:
    """Answers that are said to be a symptom, but do not break what the symptom breaks."""
    for symptom in knowledge.symptoms.values():
        for sign in symptom.shown_by:
            for outcome in knowledge.criteria[sign.criterion].outcomes:
                kept = [r for r in symptom.breaks if r not in outcome.breaks]
                if outcome.condition >= sign.from_class and kept:
                    yield (
                        f'{symptom.id}: {sign.criterion} "{outcome.label}" is the symptom, but '
                        f"does not break {', '.join(kept)}; raise from_class, or add breaks"
                    )


def measured_share(knowledge: Knowledge, subsystem: str) -> tuple[int, int]:
    """How many criteria a subsystem has, and how many of them are measured or counted."""
    criteria: list[Criterion] = [
        c for c in knowledge.criteria.values() if c.id.startswith(f"{subsystem}.")
    ]
    return len(criteria), sum(c.measured for c in criteria)
