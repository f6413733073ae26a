"""A plan: its numbered steps, each with its reasons, and how far they are."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from functools import cached_property

from assess.job.job_file import DoneRecord
from assess.job.workshop_profile import Workshop
from assess.knowledge.model_base import HoursRange, Scope
from assess.knowledge.precedence_graph import Reason
from assess.planning.closure import Cause
from assess.planning.cost_estimate import Cost, Estimate, Spread, estimate_of, job_hours
from assess.planning.workload import MaterialNeed, Multiplicity


class StepState(StrEnum):
    """How far a step is."""

    OPEN = "open"
    DONE = "done"
    FAILED = "failed"


@dataclass(frozen=True)
class StepReason:
    """Why a step comes after another step of the same plan."""

    after: str
    reason: Reason


@dataclass(frozen=True)
class PlanStep:
    """One numbered step of a plan.

    ``kind`` is ``repair``, ``hold point``, ``open``, ``close`` or ``find``; ``waits_hours`` is
    drying or rest by the clock; ``reasons`` are all direct reasons of order; ``rule`` is what
    decided between this step and the others that were free. ``to_reach`` is what a test must
    read, in short. ``record`` is what the job file says was done, and ``before_done`` the number
    of a step that is done although it comes after this one, or 0.
    """

    number: int
    step: str
    kind: str
    title: str
    stage: str
    hours: HoursRange
    waits_hours: float
    times: Multiplicity
    materials: tuple[MaterialNeed, ...]
    cautions: tuple[str, ...]
    causes: tuple[Cause, ...]
    reasons: tuple[StepReason, ...]
    rule: str
    how: str = ""
    avoid: str = ""
    test: str = ""
    if_fails: str = ""
    passes: str = ""
    lasts_years: float | None = None
    reversible: bool = True
    note: str = ""
    to_reach: str = ""
    state: StepState = StepState.OPEN
    record: DoneRecord | None = None
    before_done: int = 0

    @property
    def is_done(self) -> bool:
        """Whether nothing is left to do of it."""
        return self.state is StepState.DONE

    @property
    def is_routine(self) -> bool:
        """Whether it is there only because it belongs to every job."""
        return all(cause.kind == "routine" for cause in self.causes)


@dataclass(frozen=True)
class Plan:
    """An ordered plan for one scope.

    ``called`` are the repairs that findings call for and the criteria that call them;
    ``replaced`` maps lesser repairs to the thorough ones that replace them; ``done_besides``
    are steps that were done and that this plan does not have.
    """

    scope: Scope
    steps: tuple[PlanStep, ...]
    called: dict[str, tuple[str, ...]]
    replaced: dict[str, str]
    materials: tuple[MaterialNeed, ...]
    cost: Cost
    workshop_job: bool
    workshop: Workshop = field(repr=False)
    done_besides: tuple[str, ...] = ()

    @cached_property
    def estimate(self) -> Estimate:
        """Hours and cost, and the steps that make the spread."""
        return estimate_of({s.step: s.hours for s in self.steps}, self.cost, self.workshop)

    @property
    def hours(self) -> Spread:
        """Bench hours of the whole job."""
        return self.estimate.hours

    @property
    def left(self) -> tuple[PlanStep, ...]:
        """The steps that are not done."""
        return tuple(s for s in self.steps if not s.is_done)

    @cached_property
    def hours_left(self) -> Spread:
        """Bench hours of the steps that are not done."""
        return job_hours([s.hours for s in self.left], self.workshop)

    @property
    def begun(self) -> bool:
        """Whether anything of it was done or tried."""
        return any(s.record for s in self.steps)

    @property
    def next_step(self) -> PlanStep | None:
        """Where work goes on, None at the end.

        At a test that failed; else at the first open step. What belongs to every job and comes
        before something that is done has had its time: a plan does not begin again with it.
        """
        failed = [s for s in self.left if s.state is StepState.FAILED]
        in_turn = [s for s in self.left if not (s.before_done and s.is_routine)]
        return next(iter((*failed, *in_turn, *self.left)), None)

    def step(self, name: str) -> PlanStep | None:
        """The plan's step of that id."""
        return next((s for s in self.steps if s.step == name), None)

    @property
    def cautions(self) -> tuple[str, ...]:
        """Every caution that a step raises, in the order of the steps."""
        return tuple(dict.fromkeys(c for s in self.steps for c in s.cautions))
