"""The one call that runs the whole pipeline: :func:`assess`."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

from assess.base.errors import AssessError
from assess.decision.rules import VerdictName, weigh
from assess.grading.grades import Graded, grade
from assess.grading.judgements import Judgement, improbable, judge
from assess.job.answers import read_answers
from assess.job.computed_values import Measured, figures_of, inspection_of, measure_all, sheets_of
from assess.job.configuration import Configuration, configuration_of
from assess.job.csv_surveys import read_surveys
from assess.job.job_file import Job
from assess.job.workshop_profile import Workshop, load_workshop
from assess.knowledge.declaration import Feature
from assess.knowledge.knowledge_base import Knowledge, PluginFault, subsystem_of
from assess.knowledge.model_base import Scope
from assess.planning.planner import Plan, Planner
from assess.plugin.api import Figure, Inspection, Sheet
from assess.plugin.registry import knowledge_in_use
from assess.uncertainty.bayes_network import Beliefs, beliefs, expected_grades

if TYPE_CHECKING:
    # These need numpy, which takes as long to import as everything else together, and
    # grades and plans do without it.
    from assess.decision.scenarios import Scenarios, VerdictIndices
    from assess.decision.verdict import SensitivityFlip, Verdict
    from assess.inspection.hidden_defects import Hidden
    from assess.inspection.value_of_information import InformationValue
    from assess.planning.budget import Budget
    from assess.uncertainty.plan_arrays import PlanArrays


@dataclass(frozen=True)
class Assessment:
    """Everything that follows from one job file; later stages are worked out when asked for.

    Attributes:
        job, knowledge, workshop: what it was made from.
        configuration: the instrument's tags and facts.
        graded: judgements, findings and grades.
        inspection: what plugins were given to compute from.
        measured: what they computed.
    """

    job: Job
    knowledge: Knowledge
    workshop: Workshop
    configuration: Configuration
    graded: Graded
    inspection: Inspection
    measured: Measured

    @cached_property
    def _sheets_and_faults(self) -> tuple[dict[str, Sheet], tuple[PluginFault, ...]]:
        return sheets_of(self.knowledge, self.inspection)

    @cached_property
    def _figures_and_faults(self) -> tuple[dict[str, Figure], tuple[PluginFault, ...]]:
        return figures_of(self.knowledge, self.inspection)

    @property
    def sheets(self) -> dict[str, Sheet]:
        """Tables for the bench, by full id."""
        return self._sheets_and_faults[0]

    @property
    def sheet_faults(self) -> tuple[PluginFault, ...]:
        """Plugins that could not make their sheets; not in ``faults``, which must be cheap."""
        return self._sheets_and_faults[1]

    @property
    def figures(self) -> dict[str, Figure]:
        """Data of plots, by full id."""
        return self._figures_and_faults[0]

    @property
    def figure_faults(self) -> tuple[PluginFault, ...]:
        """Plugins that could not give their figures; not in ``faults``, which must be cheap."""
        return self._figures_and_faults[1]

    @cached_property
    def planner(self) -> Planner:
        """What the plans of this instrument have in common."""
        amounts = self.measured.quantities
        return Planner(self.knowledge, self.configuration, self.graded, self.workshop, amounts)

    @cached_property
    def plans(self) -> dict[Scope, Plan]:
        """The plan of each scope: ``stabilise``, ``playing`` and ``full``."""
        return self.planner.plans()

    @cached_property
    def beliefs(self) -> Beliefs:
        """What the answers make of the states of care."""
        return beliefs(self.graded, self.knowledge, self.workshop.care)

    @cached_property
    def expected(self) -> dict[str, float]:
        """The grade to expect of each component and subsystem, and of ``instrument``."""
        return expected_grades(self.graded, self.knowledge, self.beliefs)

    @cached_property
    def plan_arrays(self) -> PlanArrays:
        """Hours and money of all that may be planned, as arrays."""
        from assess.uncertainty.plan_arrays import plan_arrays

        return plan_arrays(
            self.knowledge, self.configuration, self.workshop, self.measured.quantities
        )

    @cached_property
    def scenarios(self) -> Scenarios:
        """The instrument as it may be: everything unseen filled in, many times."""
        from assess.decision.scenarios import simulate_scenarios
        from assess.uncertainty.monte_carlo import draw

        unseen, outcomes = draw(self.graded, self.knowledge, self.beliefs)
        return simulate_scenarios(self.plan_arrays, self.graded, self.workshop, unseen, outcomes)

    @cached_property
    def verdict(self) -> Verdict:
        """The verdict with its reasons, how sure it is, and what would change it."""
        from assess.decision.verdict import conclude

        owner = self.job.owner
        options = weigh(self.plans, self.graded, owner, self.workshop)
        titles = {c.id: c.title for c in self.knowledge.components.values()}
        return conclude(options, self.scenarios, self.graded, owner, self.workshop, titles)

    def budget(self, playable: bool = False) -> Budget:
        """What sums of money buy, if it need not or must play afterwards."""
        from assess.planning.budget import Budget

        # The order of all steps is worked out with the plans, and every choice keeps to it.
        _ = self.plans
        return Budget(self.planner, playable)

    @cached_property
    def pivotal_findings(self) -> tuple[SensitivityFlip, ...]:
        """Findings which, were they a class better or worse, would turn the verdict."""
        from assess.decision.verdict import pivotal_findings

        return pivotal_findings(
            self.plan_arrays, self.scenarios, self.graded, self.job.owner, self.workshop
        )

    @cached_property
    def verdict_indices(self) -> VerdictIndices:
        """What is decided in each scenario (index into ``VERDICT_NAMES``)."""
        return self.scenarios.verdict_indices(self.job.owner, self.workshop)

    def chances(self) -> dict[VerdictName, float]:
        """Every verdict that may come out, likeliest first; quicker than the verdict itself."""
        from assess.decision.verdict import chances_of

        return chances_of(self.verdict_indices)

    @property
    def settled(self) -> bool:
        """Whether what is unseen could change the verdict no likelier than the profile allows."""
        left = 1 - next(iter(self.chances().values()))
        return left <= self.workshop.settled_doubt and not self.guessed

    @property
    def guessed(self) -> tuple[str, ...]:
        """Why no verdict can be given yet though no ceiling stands in its way, or nothing."""
        from assess.decision.verdict import guessed

        return guessed(self.graded, self.job.owner)

    @cached_property
    def information_value(self) -> InformationValue:
        """What is unseen: what to look at next, and what may come to light."""
        from assess.inspection.value_of_information import value_unseen

        return value_unseen(
            self.plan_arrays,
            self.graded,
            self.beliefs,
            self.knowledge,
            self.configuration,
            self.workshop,
            self.scenarios,
            self.verdict_indices,
        )

    def hidden(self, scope: Scope) -> tuple[Hidden, ...]:
        """What may come to light in a scope: what is not seen, and kinds of build not said."""
        from assess.inspection.hidden_defects import LEAST_COST, by_expected_cost, hidden_variant

        lines = [*self.information_value.hidden_answers(scope)]
        hours, cost = self._expects(scope)
        for feature, otherwise, other in self._otherwise_built:
            other_hours, other_cost = other._expects(scope)
            added = (other_hours - hours, other_cost - cost)
            if added[1] > LEAST_COST * cost:
                lines.append(
                    hidden_variant(feature, otherwise, added, self.knowledge, self.configuration)
                )
        return by_expected_cost(lines)

    @cached_property
    def _otherwise_built(self) -> list[tuple[Feature, bool | str, Assessment]]:
        """The instrument as it would be with each kind of build that nobody has said."""
        found = []
        for feature in self.knowledge.features.values():
            if feature.chance and feature.id in self.configuration.assumed:
                for otherwise in feature.others:
                    features = {**self.job.instrument.features, feature.id: otherwise}
                    told = self.job.instrument.model_copy(update={"features": features})
                    job = self.job.model_copy(update={"instrument": told})
                    other = assess(job, knowledge=self.knowledge, workshop=self.workshop)
                    found.append((feature, otherwise, other))
        return found

    def _expects(self, scope: Scope) -> tuple[float, float]:
        """Mean hours and mean cost of a scope, with the unseen in them."""
        costs_of_scope = self.scenarios.costs[scope]
        return float(costs_of_scope.mean_h.mean()), float(
            costs_of_scope.mean_cost(self.workshop).mean()
        )

    @property
    def faults(self) -> tuple[PluginFault, ...]:
        """Plugins that could not be used, or could not compute."""
        return self.knowledge.faults + self.measured.faults

    @cached_property
    def warnings(self) -> tuple[str, ...]:
        """Improbable numbers, answers nobody can read, and plugins left out."""
        lines = [
            *self.configuration.questions,
            *improbable(self.graded.judgements.values(), self.job),
        ]
        lines += [str(fault) for fault in self.faults]
        absent = [s for s in self.job.answers if s not in self.knowledge.subsystems]
        lines += [
            f"{self.job.where('answers', s)}: no installed plugin knows this subsystem; "
            "its answers are kept but not used"
            for s in absent
        ]
        return tuple(lines)


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
    """
    knowledge = knowledge_in_use() if knowledge is None else knowledge
    if not knowledge.subsystems:
        causes = "; ".join(str(f) for f in knowledge.faults) or "none is installed"
        raise AssessError(f"no subsystem can be assessed: {causes}")
    answers = read_answers(job, knowledge)
    configuration = configuration_of(job, knowledge, answers)
    inspection = inspection_of(answers, knowledge, configuration, read_surveys(job, knowledge))
    measured = measure_all(knowledge, inspection)
    judgements = judge(job, knowledge, configuration, answers, measured.values)
    graded = grade(judgements, knowledge, {f.subsystem for f in measured.faults if f.subsystem})
    shop = workshop or load_workshop()
    return Assessment(job, knowledge, shop, configuration, graded, inspection, measured)


def subsystem_findings(graded: Graded, subsystem: str) -> Iterable[Judgement]:
    """The findings of one subsystem, worst first."""
    return (f for f in graded.findings if subsystem_of(f.id) == subsystem)
