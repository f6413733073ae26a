"""The one call that runs the whole pipeline: :func:`assess`."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

from assess.base.errors import NothingInstalledError
from assess.grading.examined import Entered, Examined, examine, read_entered
from assess.grading.judgements import improbable
from assess.job.job_file import Job
from assess.job.progress import Progress, read_progress
from assess.job.units_of_job import units_of
from assess.job.unknown_entries import unknown_entries
from assess.job.workshop_profile import Workshop, load_workshop, unknown_ids
from assess.knowledge.declaration import Feature
from assess.knowledge.knowledge_base import Knowledge
from assess.knowledge.model_base import SCOPES, Scope
from assess.knowledge.steps import Step
from assess.knowledge.trade import VerdictName
from assess.knowledge.unit_rows import with_units
from assess.plugin.registry import knowledge_in_use
from assess.uncertainty.bayes_network import Beliefs, beliefs, likelier_than_usual, responsible
from assess.uncertainty.expected_grades import ExpectedGrades, expected_grades
from assess.uncertainty.prior_chances import prior_chances

if TYPE_CHECKING:
    # Each is imported where it is needed: grades do without plans, and plans without numpy.
    from assess.decision.interim_use import InterimUse
    from assess.decision.rules import Setting
    from assess.decision.scenario_verdicts import VerdictIndices
    from assess.decision.verdict import SensitivityFlip, Verdict
    from assess.inspection.complaints import Explained
    from assess.inspection.hidden_defects import Hidden
    from assess.inspection.likely_cures import LikelyCures
    from assess.inspection.value_of_information import InformationValue
    from assess.inspection.visit_stops import VisitMeans
    from assess.inspection.visit_walk import Walk
    from assess.planning.budget import Budget
    from assess.planning.fault_finding import Search
    from assess.planning.plan import Plan
    from assess.planning.planner import Planner
    from assess.planning.workload import WorkContext
    from assess.uncertainty.monte_carlo import Sample
    from assess.uncertainty.plan_arrays import PlanArrays
    from assess.uncertainty.scenario_costs import Scenarios


@dataclass(frozen=True)
class Assessment(Examined):
    """Everything that follows from one job file; later stages are worked out when asked for.

    Attributes:
        workshop: the workshop profile.
        progress: which steps have been done.
    """

    workshop: Workshop
    progress: Progress

    @cached_property
    def planner(self) -> Planner:
        """What the plans of this object have in common."""
        from assess.planning.planner import Planner

        amounts = self.measured.quantities
        return Planner(
            self.knowledge,
            self.configuration,
            self.graded,
            self.workshop,
            amounts,
            self.searches,
            self.progress,
        )

    @cached_property
    def plans(self) -> dict[Scope, Plan]:
        """The plan of each scope: ``stabilise``, ``working`` and ``full``."""
        return self.planner.plans()

    @cached_property
    def beliefs(self) -> Beliefs:
        """What the answers make of the states of care."""
        return beliefs(self.graded, self.knowledge, self.workshop.care, self.told)

    @property
    def setting(self) -> Setting:
        """Owner, workshop and words: what a decision depends on besides the object."""
        from assess.decision.rules import Setting

        return Setting(self.job.owner, self.workshop, self.trade, self.told)

    @cached_property
    def expected(self) -> ExpectedGrades:
        """The grades to expect of components, subsystems and the whole."""
        return expected_grades(self.graded, self.knowledge, self.beliefs)

    @property
    def context(self) -> WorkContext:
        """What hours and materials depend on, with nothing counted yet."""
        from assess.planning.workload import WorkContext

        amounts = self.measured.quantities
        return WorkContext(
            self.knowledge,
            self.configuration,
            self.workshop,
            quantities=amounts,
            searches=self.searches,
        )

    @cached_property
    def plan_arrays(self) -> PlanArrays:
        """Hours and money of all that may be planned, as arrays."""
        from assess.uncertainty.plan_arrays import plan_arrays

        return plan_arrays(self.context)

    @cached_property
    def sample(self) -> Sample:
        """Everything unseen filled in, many times, so that it explains what is complained of."""
        from assess.uncertainty.monte_carlo import sample

        return sample(self.graded, self.knowledge, self.beliefs)

    @cached_property
    def scenarios(self) -> Scenarios:
        """Possible states of the object: everything unseen filled in, many times."""
        from assess.uncertainty.scenario_costs import simulate_scenarios

        unseen, outcomes = self.sample.unseen, self.sample.outcomes
        return simulate_scenarios(self.plan_arrays, self.graded, self.workshop, unseen, outcomes)

    def cost_distribution(
        self, scope: Scope, shares: Sequence[float]
    ) -> tuple[tuple[float, ...], tuple[float, ...]]:
        """The costs that a scope stays under with given probabilities.

        Args:
            scope: how far to go.
            shares: probabilities between 0 and 1.

        Returns:
            For what was seen, and allowing for what was not; none for a plan without steps.
        """
        import numpy as np

        from assess.planning.cost_estimate import price_at

        plan = self.plans[scope]
        seen = tuple(price_at(plan.cost, share) for share in shares if plan.steps)
        _, costs = self.scenarios.costs[scope].sampled(self.workshop)
        every = np.quantile(costs, shares)
        return seen, tuple(map(float, every))

    @cached_property
    def verdict(self) -> Verdict:
        """The verdict with its reasons, how sure it is, and what would change it."""
        from assess.decision.rules import weigh
        from assess.decision.verdict import conclude

        options = weigh(self.plans, self.graded, self.setting)
        titles = {c.id: c.title for c in self.knowledge.components.values() if c.part}
        return conclude(options, self.scenarios, self.graded, self.setting, titles)

    @cached_property
    def interim_use(self) -> InterimUse:
        """Whether it may be used until something is done."""
        from assess.decision.interim_use import interim_use

        return interim_use(self.graded, self.setting)

    def budget(self, usable: bool = False) -> Budget:
        """What sums of money buy, if it need not or must be usable afterwards."""
        from assess.decision.rules import is_evidence
        from assess.planning.budget import Budget

        # The order of all steps is worked out with the plans, and every choice keeps to it.
        _ = self.plans
        evidence = is_evidence(self.graded, self.setting)
        return Budget(self.planner, usable, ("stabilise",) if evidence else SCOPES)

    @cached_property
    def pivotal_findings(self) -> tuple[SensitivityFlip, ...]:
        """Findings which, a class better or worse, would change the verdict."""
        from assess.decision.verdict import pivotal_findings

        return pivotal_findings(self.plan_arrays, self.scenarios, self.graded, self.setting)

    @cached_property
    def verdict_indices(self) -> VerdictIndices:
        """What is decided in each scenario (index into ``VERDICT_NAMES``)."""
        from assess.decision.scenario_verdicts import verdict_indices

        return verdict_indices(self.scenarios, self.setting)

    def chances(self) -> dict[VerdictName, float]:
        """Every verdict that is possible, likeliest first; quicker than the verdict itself."""
        from assess.decision.scenario_verdicts import chances_of

        return chances_of(self.verdict_indices)

    @property
    def doubt(self) -> float:
        """The risk that unseen parts change the verdict."""
        return 1 - next(iter(self.chances().values()))

    @property
    def settled(self) -> bool:
        """Whether the risk that unseen parts change the verdict is at most what is allowed."""
        return self.doubt <= self.workshop.settled_doubt and not self.guessed

    @property
    def guessed(self) -> tuple[str, ...]:
        """Why no useful price can be given yet, where the owner names no limit; or nothing."""
        from assess.decision.verdict import guessed

        return guessed(self.graded, self.setting)

    @cached_property
    def information_value(self) -> InformationValue:
        """What to look at next, and which faults may still be hidden."""
        from assess.inspection.complaints import tests_first
        from assess.inspection.value_of_information import value_unseen

        return value_unseen(
            self.context,
            self.graded,
            self.beliefs,
            self.plan_arrays,
            self.scenarios,
            self.verdict_indices,
            self.configuration.opened,
            tests_first(self.complaints),
        )

    def walk(self, means: VisitMeans | None = None) -> Walk:
        """The rest of a visit, with what there is of time and tools."""
        from assess.inspection.complaints import tests_first
        from assess.inspection.visit_stops import VisitMeans
        from assess.inspection.visit_walk import visit_walk

        means = means or VisitMeans()
        opened = means.opened | frozenset(self.told.history.opened)
        return visit_walk(
            self.graded,
            self.knowledge,
            self.configuration,
            replace(means, opened=opened),
            self.information_value.telling() if means.minutes is not None else {},
            tests_first(self.complaints),
        )

    @cached_property
    def complaints(self) -> tuple[Explained, ...]:
        """What is complained of, what explains it, and what else may cause it."""
        from assess.inspection.complaints import explain_complaints

        responsible_for = responsible(self.beliefs, self.graded)
        return explain_complaints(self.told, self.graded, self.beliefs, responsible_for)

    @cached_property
    def searches(self) -> tuple[Search, ...]:
        """What it takes to find the cause of each complaint that nothing found explains."""
        from assess.planning.fault_finding import search_for

        if not self.told.complaints:
            return ()
        waiting = {e.symptom.id: e for e in self.complaints if not e.is_explained}
        return tuple(
            search_for(
                explained.symptom,
                explained.tests,
                explained.likely_unseen,
                self.graded.judgements,
                self.knowledge,
                self.configuration,
            )
            for explained in waiting.values()
        )

    def likely_cures(self, scope: Scope) -> dict[Step, LikelyCures]:
        """For each search of a plan, what may cure what is complained of, likeliest first."""
        return self._likely_cures[scope]

    @cached_property
    def _likely_cures(self) -> dict[Scope, dict[Step, LikelyCures]]:
        from assess.inspection.likely_cures import CureContext, likely_cures

        wanted = {search.symptom for search in self.searches}
        if not wanted:
            return {scope: {} for scope in SCOPES}
        context = CureContext(
            self.knowledge,
            self.configuration,
            self.workshop,
            self.graded,
            self.sample,
            self.plan_arrays,
        )
        evidence = [e for e in self.beliefs.complaints if e.symptom.id in wanted]
        return likely_cures(evidence, context)

    def hidden(self, scope: Scope) -> tuple[Hidden, ...]:
        """Faults and kinds of build that may still be hidden in a scope.

        The causes of what is complained of come first, likeliest to contribute first; then all
        else by what it adds to the cost on average, times how much likelier it is here than in
        an object of which nothing is known.
        """
        from assess.inspection.complaints import unexplained_causes
        from assess.inspection.hidden_defects import LEAST_COST, by_relevance, hidden_variant

        lines = [*self.information_value.hidden_answers(scope)]
        hours, cost = self._expects(scope)
        for feature, otherwise, other in self._otherwise_built:
            other_hours, other_cost = other._expects(scope)
            added = (other_hours - hours, other_cost - cost)
            if added[1] > LEAST_COST * cost:
                lines.append(hidden_variant(feature, otherwise, added, self.context))
        usual = prior_chances(self.knowledge, self.workshop.care)
        times = {
            line.criterion: likelier_than_usual(
                self.knowledge.criteria[line.criterion], self.beliefs, usual[line.criterion]
            )
            for line in lines
            if line.criterion
        }
        return by_relevance(lines, unexplained_causes(self.complaints), times)

    @cached_property
    def _otherwise_built(self) -> list[tuple[Feature, bool | str, Assessment]]:
        """The object with each kind of build that it may have and the job file does not state."""
        found = []
        for feature in self.knowledge.features.values():
            if feature.chance and feature.id in self.configuration.assumed:
                for otherwise in feature.others:
                    features = {**self.job.instrument.features, feature.id: otherwise}
                    built = self.job.instrument.model_copy(update={"features": features})
                    job = self.job.model_copy(update={"instrument": built})
                    other = _assessed(job, self.knowledge, self.entered, self.workshop)
                    found.append((feature, otherwise, other))
        return found

    def _expects(self, scope: Scope) -> tuple[float, float]:
        """Mean hours and mean cost of a scope, allowing for the unseen."""
        costs = self.scenarios.costs[scope]
        return float(costs.mean_h.mean()), float(costs.mean_cost(self.workshop).mean())

    @cached_property
    def warnings(self) -> tuple[str, ...]:
        """Improbable numbers, ids and answers without effect, and plugins left out."""
        return (
            *self.configuration.questions,
            *self.told.questions,
            *improbable(self.graded.judgements.values(), self.job),
            *(f"workshop profile: {line}" for line in unknown_ids(self.workshop, self.knowledge)),
            *(line for fault in self.faults for line in fault.lines()),
            *unknown_entries(self.job, self.knowledge, self.told, self.progress),
        )


def assess(
    job: Job, *, knowledge: Knowledge | None = None, workshop: Workshop | None = None
) -> Assessment:
    """Assess a job.

    Args:
        job: as :func:`assess.load` gives it.
        knowledge: what plugins declare; that of all installed plugins when left out.
        workshop: the workshop profile; the defaults when left out.

    Returns:
        The assessment: grades at once, plans and verdict when they are asked for.

    Raises:
        JobFileError: the job says something impossible.
        NothingInstalledError: no plugin is left that could assess anything.
    """
    knowledge = knowledge_in_use() if knowledge is None else knowledge
    if not knowledge.subsystems:
        causes = [line for fault in knowledge.faults for line in fault.lines()]
        lines = causes or ["no plugin in use declares a subsystem: install one, or leave out fewer"]
        raise NothingInstalledError("\n".join(["no subsystem can be assessed", *lines]))
    if not job.text:
        job = job.model_copy(update={"trade": knowledge.trade})
    if not knowledge.further_units:
        knowledge = with_units(knowledge, units_of(job, knowledge))
    entered = read_entered(job, knowledge)
    return _assessed(job, knowledge, entered, workshop or load_workshop(trade=knowledge.trade))


def _assessed(job: Job, knowledge: Knowledge, entered: Entered, workshop: Workshop) -> Assessment:
    """The assessment of a job of which everything was read."""
    examined = examine(job, knowledge, entered)
    return Assessment(
        job,
        knowledge,
        entered,
        examined.configuration,
        examined.inspection,
        examined.measured,
        examined.graded,
        workshop,
        read_progress(job, knowledge),
    )
