"""The reasons behind any result by its id: a tree down to answers and declared numbers."""

from __future__ import annotations

from dataclasses import dataclass, field

from assess.assessment import Assessment
from assess.base.errors import UserError, did_you_mean
from assess.base.wording import percent
from assess.grading.grades import CLASS_WORDS, DEFICITS, Grade
from assess.grading.judgements import Judgement
from assess.inspection.question_places import seen_from
from assess.knowledge.criteria import Criterion, Outcome
from assess.knowledge.declaration import WHEREABOUTS
from assess.knowledge.model_base import SCOPES
from assess.knowledge.steps import Step, StepKind, subsystem_of
from assess.planning.access import is_open_already
from assess.planning.plan import Plan, PlanStep

VERDICT = "verdict"
DEEPEST = 6


@dataclass
class ExplanationNode:
    """A statement and what it rests on."""

    text: str
    under: list[ExplanationNode] = field(default_factory=list)

    def add(self, text: str) -> ExplanationNode:
        """Put one more statement under this one, and give it back."""
        node = ExplanationNode(text)
        self.under.append(node)
        return node


def why(result: Assessment, identifier: str) -> ExplanationNode:
    """The reasons of a grade, finding, repair, step, place, caution or the verdict.

    Args:
        result: the assessment.
        identifier: full id, or a short one that only one thing has; ``verdict``;
            ``open PLACE`` and ``close PLACE``; or ``find SYMPTOM``.

    Raises:
        UserError: nothing, or more than one thing, has this id.
    """
    if identifier == VERDICT:
        return _verdict(result)
    name = resolve(result, identifier)
    knowledge = result.knowledge
    if name in result.graded.subsystems:
        return _subsystem(result, name)
    if name in knowledge.components:
        return _component(result, name)
    if name in result.graded.judgements:
        return _judgement(result, result.graded.judgements[name])
    if name in knowledge.cautions:
        return _caution(result, name)
    if name in knowledge.places:
        return _place(result, name)
    return _step(result, name)


def resolve(result: Assessment, identifier: str) -> str:
    """The full id meant by an id that may be short."""
    knowledge = result.knowledge
    known = {
        *result.graded.subsystems,
        *knowledge.components,
        *result.graded.judgements,
        *knowledge.steps,
        *knowledge.searches(),
        *knowledge.places,
        *knowledge.cautions,
    }
    if identifier in known:
        return identifier
    verb, _, target = identifier.strip().rpartition(" ")
    fitting = sorted(
        k
        for k in map(Step, known)
        if k.rpartition(" ")[0] == verb and k.target.rpartition(".")[2] == target
    )
    if len(fitting) == 1:
        return fitting[0]
    if fitting:
        raise UserError(f'"{identifier}" fits several ids: {", ".join(fitting)}')
    short = {k.rpartition(".")[2] for k in known} | known | {VERDICT}
    raise UserError(f'no such id "{identifier}"; {did_you_mean(identifier, short)}')


def _bounds(grade: Grade) -> str:
    if grade.weight == 0:
        return "nothing of it applies here"
    span = f"{grade.lower:.1f}" if grade.settled else f"{grade.lower:.1f} to {grade.upper:.1f}"
    return f"grade {span}, {100 * grade.coverage:.0f} % seen"


def _subsystem(result: Assessment, name: str) -> ExplanationNode:
    graded = result.graded.subsystems[name]
    root = ExplanationNode(f"{graded.title}: {_bounds(graded.grade)}")
    if not graded.assessed:
        for fault in result.faults:
            root.add(f"not assessed: {fault}")
        return root
    root.add(
        "grade = 100 (1 - sum of weight x deficit / sum of weight), with a deficit of "
        "0, 1/6, 1/2 or 1 for class 0, 1, 2 or 3"
    )
    for component in graded.components:
        root.under.append(_component(result, component))
    return root


def _component(result: Assessment, name: str) -> ExplanationNode:
    component = result.knowledge.components[name]
    judgements = [
        j for j in result.graded.judgements.values() if j.criterion.component == name and j.counts
    ]
    subsystem = result.graded.subsystems.get(subsystem_of(name))
    grade = subsystem.components.get(name) if subsystem else None
    root = ExplanationNode(f"{component.title}: {_bounds(grade)}" if grade else component.title)
    for judgement in judgements:
        root.add(_contribution(judgement))
    return root


def _contribution(judgement: Judgement) -> str:
    criterion = judgement.criterion
    lost = [criterion.weight * DEFICITS[o.condition] for o in (judgement.best, judgement.worst)]
    if judgement.is_seen:
        said = f"{judgement.given}: class {judgement.outcome.condition}, "
        said += f"takes {lost[0]:.2g} of {criterion.weight:g}"
    else:
        said = f"unseen, takes {lost[0]:.2g} to {lost[1]:.2g} of {criterion.weight:g}"
    vital = "; vital: the subsystem cannot be better" if criterion.vital else ""
    return f"{criterion.asks}: {said}{vital} [{criterion.id}]"


def _judgement(result: Assessment, judgement: Judgement) -> ExplanationNode:
    criterion = judgement.criterion
    root = ExplanationNode(f"{criterion.asks} [{criterion.id}]")
    if judgement.is_seen:
        root.under.append(_outcome(result, judgement.outcome, judgement))
    else:
        missing = f"; missing: {', '.join(judgement.missing)}" if judgement.missing else ""
        root.add(f"{judgement.state}{missing}")
    if judgement.note:
        root.add(f"noted: {judgement.note}")
    root.add(f"how to tell: {criterion.how}")
    where = seen_from(criterion, result.knowledge, result.configuration)
    if where:
        root.add(f"seen from: {where}")
    root.add(
        f"weight {criterion.weight:g} in {criterion.component}"
        + (", vital" if criterion.vital else "")
    )
    outcomes = root.add("possible outcomes" + _source(result, criterion.source, criterion.id))
    unseen = judgement.is_unseen
    chances = result.beliefs.of_criterion(criterion.id) if unseen else None
    for place, outcome in enumerate(criterion.outcomes):
        believed = f"; believed {percent(chances[place])}" if chances else ""
        outcomes.add(_outcome_line(criterion, outcome) + believed)
    return root


def _outcome_line(criterion: Criterion, outcome: Outcome) -> str:
    if outcome.from_ is None:
        range_ = ""
    elif criterion.share_of:
        range_ = f"from {100 * outcome.from_:g} % of {' x '.join(criterion.share_of)}: "
    else:
        range_ = f"from {outcome.from_:g} {criterion.unit}: "
    return f"{range_}{outcome.label}: class {outcome.condition} {CLASS_WORDS[outcome.condition]}"


def _outcome(result: Assessment, outcome: Outcome, judgement: Judgement) -> ExplanationNode:
    given = judgement.given
    if outcome.says:
        given += f", which is: {outcome.says}"
    root = ExplanationNode(f"seen: {given}; class {outcome.condition}, urgency {outcome.how_soon}")
    for words in _consequences(result, outcome, judgement):
        root.add(words)
    for scope in SCOPES:
        for repair in judgement.calls(scope):
            title = result.trade.scope_title(scope)
            root.add(f"calls for ({title}): {result.knowledge.title(repair)} [{repair}]")
    for caution in outcome.cautions:
        root.add(f"take care: {result.knowledge.cautions[caution].title} [{caution}]")
    return root


def _consequences(result: Assessment, outcome: Outcome, judgement: Judgement) -> list[str]:
    """What an outcome means, in words."""
    use, requirements = result.trade.use, result.knowledge.requirements
    only_cause = judgement.stops_use and not outcome.stops_use
    can_be_used = f"it can {use} all the same: {outcome.breaks_none}"
    lines = [
        outcome.means,
        "a danger to people" if outcome.danger else "",
        "goes on getting worse by itself" if outcome.decay else "",
        f"it does not {use} as it should" if outcome.stops_use else "",
        f"a cause of what keeps it from being able to {use}" if only_cause else "",
        *(f"not met: {requirements[r].title} [{r}]" for r in outcome.breaks),
        can_be_used if outcome.breaks_none else "",
        outcome.beyond_repair,
        outcome.advise_against,
    ]
    return [line for line in lines if line]


def _source(result: Assessment, source: str, owner: str) -> str:
    if not source:
        return ""
    words = []
    for key in source.split(", "):
        found = result.knowledge.sources.get(f"{subsystem_of(owner)}.{key}")
        words.append(
            f"{found.title} <{found.url}>" if found and found.url else found.title if found else key
        )
    return f" (source: {'; '.join(words)})"


def _caution(result: Assessment, name: str) -> ExplanationNode:
    caution = result.knowledge.cautions[name]
    root = ExplanationNode(f"{caution.title} [{name}]")
    root.add(caution.text + _source(result, caution.source, name))
    for what, whom in (("ask", caution.defer_to), ("follow", caution.follow)):
        if whom:
            root.add(f"{what}: {whom}")
    for finding in result.graded.findings:
        if name in finding.outcome.cautions:
            root.add(f"raised by: {finding.criterion.asks}: {finding.given} [{finding.id}]")
    for step in dict.fromkeys(
        s.step for p in result.plans.values() for s in p.steps if name in s.cautions
    ):
        root.add(f"raised by the step: {result.knowledge.title(step)} [{step}]")
    return root


def _place(result: Assessment, name: str) -> ExplanationNode:
    place = result.knowledge.places[name]
    root = ExplanationNode(f"{place.title} [{name}]")
    if place.inside:
        root.add(f"behind {result.knowledge.places[place.inside].title}: {place.reason}")
    root.under += [_step(result, Step.opening(name)), _step(result, Step.closing(name))]
    return root


def _step(result: Assessment, name: str) -> ExplanationNode:
    root = ExplanationNode(f"{result.knowledge.title(name)} [{name}]")
    held = [s for s in SCOPES if result.plans[s].step(name)]
    if is_open_already(name, result.configuration):
        root.add("it is open already, as told: it is only closed")
        return root
    searched = Step(name).kind is StepKind.FIND
    if searched and not held:
        root.under += _no_search(result, Step(name).target)
        return root
    work = result.knowledge.work(name)
    if work and work.source:
        root.add("hours" + _source(result, work.source, name))
    if not held:
        for scope in SCOPES:
            by = result.plans[scope].replaced.get(name)
            if by:
                title = result.trade.scope_title(scope)
                root.add(f"not needed ({title}): {result.knowledge.title(by)} covers it [{by}]")
        where = _stands_elsewhere(result, name)
        if where:
            root.add(f"in no plan of this job: {where}")
        elif not root.under or work is None or len(root.under) == 1:
            root.add("in no plan of this job: nothing that was found needs it")
        return root
    plan = result.plans[held[-1]]
    step = plan.step(name)
    assert step is not None
    named = ", ".join(result.trade.scope_title(s) for s in held)
    largest = result.trade.scope_title(plan.scope)
    root.add(f"in the plans: {named}; step {step.number} of {len(plan.steps)} in {largest}")
    _add_causes(result, root.add("why it is in the plan"), plan, step, DEEPEST, set())
    _add_order(result, root.add("why it stands where it does"), plan, step)
    if searched:
        _add_search(result, root, plan, Step(name))
    low, likely, high = step.hours
    times = f" ({step.times.count:g} times)" if step.times.count != 1 else ""
    root.add(f"hours {low:g}, {likely:g}, {high:g}{times}; waits {step.waits_hours:g} h")
    return root


def _stands_elsewhere(result: Assessment, name: str) -> str:
    """Why a step is not needed where the object is told to stand, or nothing."""
    work, stands = result.knowledge.work(name), result.job.history.now_at
    if work and stands and WHEREABOUTS[stands] in work.excludes:
        return f"it is told to stand at {stands} already"
    return ""


def _no_search(result: Assessment, symptom: str) -> list[ExplanationNode]:
    """Why no plan finds the cause of a symptom."""
    explained = [e for e in result.complaints if e.symptom.id == symptom]
    if not explained:
        return [ExplanationNode("in no plan of this job: it is not complained of")]
    node = ExplanationNode("in no plan of this job: what was found explains it")
    for cause in (c for e in explained for c in e.found):
        judgement = result.graded.judgements[cause.criterion]
        contributes = f"contributes {percent(cause.responsible)}"
        asked = f"{judgement.criterion.asks}: {judgement.given}"
        node.add(f"found: {asked}; {contributes} [{cause.criterion}]")
    return [node]


def _add_search(result: Assessment, root: ExplanationNode, plan: Plan, step: Step) -> None:
    """How a cause is found, where the hours come from, and what may be the cure."""
    search = next(s for s in result.searches if s.step == step)
    criteria, currency = result.knowledge.criteria, plan.cost.currency
    for head, looks in search.parts:
        node = root.add(head)
        for criterion in looks:
            found = criteria[criterion]
            node.add(f"{found.asks}, {found.minutes:g} min [{criterion}]")
    root.add(
        "hours come from the minutes of these looks: low with the first test, likely with all "
        "tests, high with all of them twice (estimate from memory)"
    )
    cures = result.likely_cures(plan.scope)[step]
    node = root.add("likely cures, each with its chance and what it adds to the plan")
    for cure in cures.listed:
        titles = "; ".join(f"{result.knowledge.title(r)} [{r}]" for r in cure.repairs)
        adds = f"{cure.hours:.1f} h, {currency} {cure.cost:,.0f}"
        below = node.add(f"{percent(cure.chance)}: {titles or 'nothing in this plan'}; {adds}")
        for criterion in cure.causes:
            below.add(f"for: {criteria[criterion].asks} [{criterion}]")
    node.add(f"{percent(cures.otherwise)}: none of these")


def _add_causes(
    result: Assessment,
    node: ExplanationNode,
    plan: Plan,
    step: PlanStep,
    depth: int,
    shown: set[str],
) -> None:
    for cause in step.causes:
        if cause.kind == "finding":
            judgement = result.graded.judgements[cause.by]
            node.add(f"found: {judgement.criterion.asks}: {judgement.given} [{cause.by}]")
            continue
        below = node.add(f"{cause.text} [{cause.by}]")
        other = plan.step(cause.by)
        if other and depth > 0 and cause.by not in shown:
            _add_causes(result, below, plan, other, depth - 1, shown | {step.step, cause.by})


def _add_order(result: Assessment, node: ExplanationNode, plan: Plan, step: PlanStep) -> None:
    numbers = {s.step: s.number for s in plan.steps}
    for reason in sorted(step.reasons, key=lambda r: numbers[r.after]):
        words = f"after {numbers[reason.after]} {result.knowledge.title(reason.after)}: "
        node.add(words + reason.reason.text + _source(result, reason.reason.source, step.step))
    node.add(f"before the other free steps: {step.rule}")


def _verdict(result: Assessment) -> ExplanationNode:
    verdict, trade = result.verdict, result.trade
    root = ExplanationNode(f"verdict: {trade.verdict(verdict.name)}")
    for reason in verdict.reasons:
        root.add(reason)
    chances = root.add("allowing for what has not been seen")
    for name, chance in verdict.chances.items():
        chances.add(f"{trade.verdict(name)}: {percent(chance)}")
    for option in verdict.options:
        node = root.add(f"scope: {trade.scope_title(option.scope)}")
        for against in option.against or ("nothing stands against it",):
            node.add(against)
        for repair, criteria in option.plan.called.items():
            called = node.add(f"{result.knowledge.title(repair)} [{repair}]")
            for criterion in criteria:
                judgement = result.graded.judgements[criterion]
                called.add(f"{judgement.criterion.asks}: {judgement.given} [{criterion}]")
    return root
