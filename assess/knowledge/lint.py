"""Checks of declared knowledge beyond its form: probable mistakes, each in one line."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from assess.base.errors import did_you_mean
from assess.knowledge.criteria import Criterion, Outcome
from assess.knowledge.declaration import WHEREABOUTS, Fact
from assess.knowledge.knowledge_base import Knowledge
from assess.knowledge.model_base import SCOPES, Scope
from assess.knowledge.precedence_graph import READY, all_superseded, reasons_of_order
from assess.knowledge.steps import Step, subsystem_of
from assess.knowledge.work import Link, Place, Repair, Work

NOTABLE = 2
"""The class from which on a finding asks for work unless something says otherwise."""

MAJOR = 3
"""The class of a finding that keeps an object out of use unless something says otherwise."""


Built = Criterion | Work | Place
"""What applies only to objects that are built so (``needs``, ``excludes``)."""


def doubts(knowledge: Knowledge) -> list[str]:
    """Everything in the joint knowledge that is probably a mistake, in words."""
    return [
        *_misspelt_references(knowledge),
        *_idle_hold_points(knowledge),
        *_dropped_calls(knowledge),
        *_unreached(knowledge),
        *_nothing_done(knowledge),
        *_dangers_without_caution(knowledge),
        *_places_that_may_be_missing(knowledge),
        *_places_never_opened(knowledge),
        *_tests_out_of_reach(knowledge),
        *_foreign_supersedes(knowledge),
        *_unknown_tags(knowledge),
        *_impossible_tellings(knowledge),
        *_unknown_facts(knowledge),
        *_silent_on_use(knowledge),
        *_unknown_causing_answers(knowledge),
        *_harmless_signs(knowledge),
        *_held_back_for_nothing(knowledge),
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
    """Repairs that no outcome calls for, and that nothing which can be in a plan brings in."""
    reached: set[str] = set()
    waiting = [*_called(knowledge), *(link.step for link in _links_of_tests(knowledge))]
    waiting += [r.id for r in knowledge.repairs.values() if r.when != "called"]
    while waiting:
        step = waiting.pop()
        if step not in reached:
            reached.add(step)
            waiting += [link.step for link in _links_of_repair(knowledge.repairs.get(step))]
    for repair in knowledge.repairs.values():
        if repair.id not in reached:
            yield f"{repair.id}: no outcome calls for it and no step needs it"


def _called(knowledge: Knowledge) -> Iterator[str]:
    """Repairs that an outcome calls for on an object that can have both."""
    for criterion in knowledge.criteria.values():
        for repair in _all_calls(criterion):
            if _can_be_together(criterion, knowledge.repairs[repair], knowledge):
                yield repair


def _all_calls(criterion: Criterion) -> set[str]:
    """Repairs that any outcome of a criterion calls for, whatever the scope."""
    return {repair for outcome in criterion.outcomes for repair in _calls(outcome)}


def _calls(outcome: Outcome) -> set[str]:
    return {*outcome.calls_for, *(outcome.to_work or ()), *(outcome.to_stabilise or ())}


def _links_of_repair(repair: Repair | None) -> tuple[Link, ...]:
    return (*repair.requires, *repair.entails) if repair else ()


def _links_of_tests(knowledge: Knowledge) -> Iterator[Link]:
    """Steps that hold points, and places when they are opened or closed, bring in."""
    for hold in knowledge.hold_points.values():
        yield from hold.requires
    for place in knowledge.places.values():
        yield from (*place.open_requires, *place.close_requires, *place.close_entails)


def _can_be_together(one: Built, other: Built, knowledge: Knowledge) -> bool:
    """Whether an object can be built so that both apply."""
    needed = {*one.needs, *other.needs}
    if needed & {*one.excludes, *other.excludes}:
        return False
    return all(len(needed & set(f.options)) <= 1 for f in knowledge.features.values())


def _nothing_done(knowledge: Knowledge) -> Iterator[str]:
    """Findings that ask for work by their class, but call for none and do not say why."""
    for criterion in knowledge.criteria.values():
        for outcome in criterion.outcomes:
            if outcome.condition >= NOTABLE and not (_calls(outcome) or _says_why(outcome)):
                yield (
                    f'{criterion.id}: "{outcome.label}" is class {outcome.condition} but calls '
                    "for no repair; name one (calls_for), or say why not (breaks_none, "
                    "beyond_repair, advise_against)"
                )


def _dangers_without_caution(knowledge: Knowledge) -> Iterator[str]:
    """Dangers to people of which nobody is warned."""
    for criterion in knowledge.criteria.values():
        for outcome in criterion.outcomes:
            if outcome.danger and not outcome.cautions:
                yield (
                    f'{criterion.id}: "{outcome.label}" is a danger to people but raises no '
                    "caution; name one (cautions)"
                )


def _says_why(outcome: Outcome) -> bool:
    return bool(outcome.breaks_none or outcome.beyond_repair or outcome.advise_against)


def _places_that_may_be_missing(knowledge: Knowledge) -> Iterator[str]:
    """Criteria that apply to objects which have none of the places they are seen from."""
    for criterion in knowledge.criteria.values():
        places = [knowledge.places[place] for place in criterion.places]
        lies_open = any(place.else_open for place in places)
        if places and not lies_open and not _some_place_exists(criterion, places, knowledge):
            lacking = " and ".join(sorted({t for p in places for t in (*p.needs, *p.excludes)}))
            yield (
                f"{criterion.id}: nobody can see it on some objects: its place depends on "
                f"{lacking}; say so in needs or excludes, or name the other place (also_open)"
            )


def _some_place_exists(criterion: Criterion, places: Sequence[Place], knowledge: Knowledge) -> bool:
    """Whether every object that a criterion applies to has one of these places."""
    fitting = [p for p in places if _can_be_together(criterion, p, knowledge)]
    further = [_further_tags(criterion, place) for place in fitting]
    if any(not tags for tags in further):
        return True
    single = {tag for tags in further if len(tags) == 1 for tag in tags}
    return any(f.options and set(f.options) <= single for f in knowledge.features.values())


def _further_tags(criterion: Criterion, place: Place) -> set[str]:
    """What a place asks of an object beyond what the criterion asks."""
    needed = set(place.needs) - set(criterion.needs)
    return needed | {f"not {tag}" for tag in set(place.excludes) - set(criterion.excludes)}


def _places_never_opened(knowledge: Knowledge) -> Iterator[str]:
    """Criteria behind something that is opened neither at the visit nor by any work."""
    opened = _opened(knowledge)
    for criterion in knowledge.criteria.values():
        for place in criterion.places:
            if place not in opened and not knowledge.places[place].at_visit:
                yield (
                    f"{criterion.id}: nobody can see it: {place} is not opened at a visit "
                    "(at_visit), and no work is done there (places)"
                )


def _opened(knowledge: Knowledge) -> set[str]:
    """Places that some work opens, and those around them."""
    works: list[Work] = [*knowledge.repairs.values(), *knowledge.hold_points.values()]
    links = [link for work in works for link in work.requires]
    links += [link for place in knowledge.places.values() for link in place.open_requires]
    inner = {place for work in works for place in work.places}
    inner |= {step.target for step in (Step(link.step) for link in links) if step.is_access}
    return {outer.id for place in inner for outer in _with_outer(place, knowledge)}


def _with_outer(place: str | None, knowledge: Knowledge) -> Iterator[Place]:
    """A place and those that must be open before it."""
    while place:
        yield knowledge.places[place]
        place = knowledge.places[place].inside


def _tests_out_of_reach(knowledge: Knowledge) -> Iterator[str]:
    """Tests of a complaint that cannot be made at the visit, where they are needed."""
    for symptom in knowledge.symptoms.values():
        for test in symptom.tests:
            for shut in _shut_at_visit(knowledge.criteria[test], knowledge):
                yield (
                    f"{symptom.id}: its test {test} cannot be made at a visit, since {shut} is "
                    "opened only in the workshop; correct its place, or leave the test out"
                )


def _shut_at_visit(criterion: Criterion, knowledge: Knowledge) -> Iterator[str]:
    """Places on the way that only the workshop opens; those that an object may lack apart."""
    for place in criterion.places:
        for outer in _with_outer(place, knowledge):
            if not outer.at_visit and not _further_tags(criterion, outer):
                yield outer.id


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
    known |= set(WHEREABOUTS.values())
    things: list[Built] = [
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


def _held_back_for_nothing(knowledge: Knowledge) -> Iterator[str]:
    """Kinds of work that a step holds back, though no step does such work."""
    works = (*knowledge.repairs.values(), *knowledge.hold_points.values())
    done = {kind for work in works for kind in work.does}
    for work in works:
        for kind in work.holds_back:
            if kind not in done:
                yield (
                    f"{work.id}: holds back {kind!r}, but no step has it in 'does'; "
                    f"{did_you_mean(kind, done)}"
                )
