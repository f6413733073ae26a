"""Which repairs belong to which scope, and the plan of each.

*stabilise* answers dangers and decay; *working* also whatever keeps the object out of use;
*full* answers every finding. All plans of a job are parts of one order, so
that a smaller scope never reverses two steps of a larger one.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from functools import cached_property

from assess.grading.grades import Graded
from assess.job.configuration import Configuration
from assess.job.progress import Progress
from assess.job.workshop_profile import Workshop
from assess.knowledge.knowledge_base import Knowledge
from assess.knowledge.model_base import SCOPES, HoursRange, Scope
from assess.knowledge.precedence_graph import precedence
from assess.knowledge.steps import Step, StepKind, subsystem_of
from assess.planning.calendar import Calendar, schedule
from assess.planning.closure import (
    Cause,
    Closure,
    closure,
    is_workshop_work,
)
from assess.planning.cost_estimate import (
    cost_of,
    job_hours,
    pert_mean,
)
from assess.planning.critical_path import LongestChain, longest_chain
from assess.planning.fault_finding import Search
from assess.planning.finish_simulation import Finish, finish_of
from assess.planning.pass_marks import pass_mark, reading_passes, value_to_reach
from assess.planning.plan import Plan, PlanStep, StepReason, StepState
from assess.planning.priority_order import Placed, StepWeight, ordered, with_chain
from assess.planning.timing import Timing, timing, waits_of
from assess.planning.work_order import WorkOrder
from assess.planning.workload import (
    MaterialNeed,
    Multiplicity,
    WorkContext,
    called_for,
    joined_materials,
    multiplicity,
    step_hours,
    step_materials,
)
from assess.plugin.api import Quantity

HOURS_A_DAY = 24.0
FOUND = "one finding explains it; add it to the job file and plan again"
RESTS_FROM_DAYS = 14
"""A second reading so much later is a rest that goes on while other work is done."""


class Planner:
    """Everything that plans of one assessed object have in common."""

    def __init__(
        self,
        knowledge: Knowledge,
        configuration: Configuration,
        graded: Graded,
        workshop: Workshop,
        quantities: Mapping[tuple[str, str], Quantity] | None = None,
        searches: tuple[Search, ...] = (),
        progress: Progress | None = None,
    ) -> None:
        self.knowledge, self.configuration = knowledge, configuration
        self.graded, self.workshop = graded, workshop
        self.progress = progress or Progress()
        self.context = WorkContext(
            knowledge, configuration, workshop, graded.judgements, quantities or {}, searches
        )
        self.order: list[Placed] = []
        self._unplaced_steps: dict[str, PlanStep] = {}
        # The last of each scope, and of each day: letter, report and card ask for the same ones.
        self._timed: dict[Scope, tuple[Plan, Timing]] = {}
        self._calendars: dict[tuple[Scope, dt.date], tuple[Plan, Calendar]] = {}
        self.work_order = WorkOrder(precedence(knowledge), knowledge, searches, self._urgent())

    @cached_property
    def _calls(self) -> dict[Scope, dict[str, tuple[str, ...]]]:
        """For each scope the repairs called for, each with the criteria that call."""
        return {scope: called_for(self.graded, scope) for scope in SCOPES}

    def _urgent(self) -> frozenset[str]:
        """Repairs called for that remove a danger to people or a live infestation."""
        called = {repair for calls in self._calls.values() for repair in calls}
        repairs = self.knowledge.repairs
        return frozenset(r for r in called if r in repairs and repairs[r].danger_first)

    def searches(self, scope: Scope) -> tuple[Search, ...]:
        """What the cause is to be found of within a scope: nothing where it is only made safe."""
        return () if scope == "stabilise" else self.context.searches

    def plans(self) -> dict[Scope, Plan]:
        """The plan of each scope."""
        calls = self._calls
        chosen = {s: self._closure(calls[s], self.searches(s)) for s in SCOPES}
        everything = {step: causes for c in chosen.values() for step, causes in c.steps.items()}
        self.order = self._ordered(everything, calls)
        return {s: self._plan(s, chosen[s], calls[s], self.order) for s in SCOPES}

    def plan_for(self, repairs: Iterable[str], scope: Scope = "full") -> Plan:
        """The plan of chosen repairs and searches out of those of some scope, in the same order.

        :meth:`plans` must have been called before.
        """
        wanted, every = set(repairs), self._calls
        calls = {r: c for s in SCOPES for r, c in every[s].items() if r in wanted}
        chosen = self._closure(calls, [s for s in self.context.searches if s.step in wanted])
        known = [placed.step for placed in self.order]
        order = self.order
        if not chosen.steps.keys() <= set(known):
            # Lesser work that every scope replaces is in no scope's plan.
            order = self._ordered({**dict.fromkeys(known, ()), **chosen.steps}, every, known)
        return self._plan(scope, chosen, calls, order)

    def _closure(self, calls: Mapping[str, tuple[str, ...]], searches: Iterable[Search]) -> Closure:
        return closure(calls, self.knowledge, self.configuration, searches)

    def calendar(self, plan: Plan, start: dt.date) -> Calendar:
        """What is left of a plan in time, at the mean hours of its steps.

        What is done counts as dry.

        Args:
            plan: one of this planner's plans.
            start: the first day.

        Raises:
            WorkshopError: the profile has no bench hours, or the job takes more than ten years.
            UserError: no calendar reaches as far as the start.
        """
        of, known = self._calendars.get((plan.scope, start), (None, None))
        if of is plan and known is not None:
            return known
        timed = self.timing(plan)
        found = schedule(timed.tasks, timed.descendants, self.workshop, start)
        self._calendars[plan.scope, start] = plan, found
        return found

    def finish(self, plan: Plan, calendar: Calendar) -> Finish:
        """When a plan worked in the order of its calendar will be done.

        Args:
            plan: one of this planner's plans.
            calendar: what :meth:`calendar` gave for it.
        """
        timed = self.timing(plan)
        return finish_of(
            calendar, timed.tasks, timed.hours, timed.descendants, self.workshop, timed.back
        )

    def longest_chain(self, plan: Plan, calendar: Calendar) -> LongestChain:
        """The steps of a plan that decide how long it would take with any number of hands.

        Args:
            plan: one of this planner's plans.
            calendar: what :meth:`calendar` gave for it.
        """
        timed = self.timing(plan)
        return longest_chain(timed.tasks, timed.descendants, self.workshop, calendar.start.date())

    def timing(self, plan: Plan) -> Timing:
        """What the calendar needs to know of the steps left of a plan."""
        of, known = self._timed.get(plan.scope, (None, None))
        if of is plan and known is not None:
            return known
        hours = {s.step: s.hours for s in plan.left}
        leads = {s.step: max((m.lead_days for m in s.materials), default=0) for s in plan.left}
        among = self.work_order.among(hours)
        stands_there = self.configuration.in_workshop or self._was_fetched(plan)
        summed = sum(pert_mean(s.hours) for s in plan.steps)
        timed = timing(hours, leads, among, self.knowledge, self.workshop, summed, stands_there)
        self._timed[plan.scope] = plan, timed
        return timed

    def _was_fetched(self, plan: Plan) -> bool:
        """Whether a step that is done has brought the object to the workshop."""
        done = (self.knowledge.work(s.step) for s in plan.steps if s.is_done)
        return any(work is not None and work.moves == "to_workshop" for work in done)

    def goes_to_workshop(self, step: str) -> bool:
        """Whether a step can be done only in the workshop."""
        search = self.search_of(step)
        if search is not None and search.workshop:
            return True
        return is_workshop_work(step, self.knowledge, self.configuration)

    def search_of(self, step: str) -> Search | None:
        """The search that a step is, if it is one."""
        return next((s for s in self.context.searches if s.step == step), None)

    def materials_of(self, steps: Iterable[PlanStep]) -> tuple[MaterialNeed, ...]:
        """What some steps of a plan use, added up as it is bought."""
        needs = [need for s in steps for need in s.materials]
        return tuple(joined_materials(needs, self.knowledge, self.workshop))

    def _ordered(
        self,
        steps: Mapping[str, tuple[Cause, ...]],
        calls: Mapping[Scope, Mapping[str, tuple[str, ...]]],
        settled: Sequence[str] = (),
    ) -> list[Placed]:
        """All steps in order; those whose order is settled already keep it."""
        urgency: dict[str, int] = {}
        for called in calls.values():
            for repair, criteria in called.items():
                soon = [self.graded.judgements[c].best.how_soon for c in criteria]
                urgency[repair] = max([urgency.get(repair, 0), *soon])
        weights = {s: self._weight(s, urgency.get(s, 0)) for s in steps}
        descendants = self.work_order.among(steps)
        return ordered(with_chain(descendants, settled) if settled else descendants, weights)

    def _weight(self, step: str, urgency: int) -> StepWeight:
        repair, work = self.knowledge.repairs.get(step), self.knowledge.work(step)
        likely = self._hours(step)[1] * self.workshop.overlap
        return StepWeight(
            stage=self._stage(step),
            danger_first=repair is not None and repair.danger_first,
            rests=work is not None
            and (work.waiting_days > 0 or work.again_after_days >= RESTS_FROM_DAYS),
            closing=Step(step).kind is StepKind.CLOSE,
            urgency=urgency,
            duration_h=likely + self._waits(step),
        )

    def _hours(self, step: str) -> HoursRange:
        return step_hours(step, self.context)

    def _waits(self, step: str) -> float:
        """Hours by the clock that a step takes besides its own: waits, and until it is repeated."""
        work = self.knowledge.work(step)
        again_h = work.again_after_days * HOURS_A_DAY if work else 0.0
        return again_h + waits_of(step, self.knowledge)

    def _stage(self, step: str) -> str:
        place = self.knowledge.place_of(step)
        if place is not None:
            opening = Step(step).kind is StepKind.OPEN
            stage = place.open_stage if opening else place.close_stage
        else:
            work = self.knowledge.work(step)
            stage = work.stage if work else None
        if stage in self.knowledge.stages:
            return self.knowledge.stages[stage].title
        return self.knowledge.subsystems[subsystem_of(step)].title

    def _plan(
        self,
        scope: Scope,
        chosen: Closure,
        called: Mapping[str, tuple[str, ...]],
        order: Iterable[Placed],
    ) -> Plan:
        placed = [p for p in order if p.step in chosen.steps]
        steps = tuple(self._plan_step(n, p, chosen, scope) for n, p in enumerate(placed, 1))
        steps = self._with_late(steps)
        hours = job_hours((s.hours for s in steps), self.workshop)
        materials = self.materials_of(steps)
        away = any(map(self.goes_to_workshop, chosen.steps))
        transport = self.context.transport if away else 0.0
        cost = cost_of(hours, sum(m.price for m in materials), transport, self.workshop)
        return Plan(
            scope,
            steps,
            dict(called),
            dict(chosen.replaced),
            materials,
            cost,
            away,
            self.workshop,
            tuple(s for s in self.progress.last if s not in chosen.steps),
        )

    def _with_late(self, steps: tuple[PlanStep, ...]) -> tuple[PlanStep, ...]:
        """The steps, each open one with the first done step that must come after it."""
        numbers = {s.step: s.number for s in steps if s.is_done}
        if not numbers:
            return steps
        after = self.work_order.among(s.step for s in steps)
        first = {s.step: [numbers[f] for f in after[s.step] if f in numbers] for s in steps}
        return tuple(
            replace(s, before_done=min(first[s.step])) if first[s.step] and not s.is_done else s
            for s in steps
        )

    def _state(self, step: str, scope: Scope) -> StepState:
        record = self.progress.last.get(step)
        if record is None:
            return StepState.OPEN
        hold = self.knowledge.hold_points.get(step)
        passes = hold is None or reading_passes(
            hold, record.reading, scope, self.knowledge, self.configuration
        )
        return StepState.FAILED if record.failed or passes is False else StepState.DONE

    def _plan_step(self, number: int, placed: Placed, chosen: Closure, scope: Scope) -> PlanStep:
        step, knowledge = placed.step, self.knowledge
        if step not in self._unplaced_steps:
            self._unplaced_steps[step] = self._unplaced(step)
        direct = self.work_order.direct(step, chosen.steps)
        found = replace(
            self._unplaced_steps[step],
            number=number,
            cautions=self._cautions(step, chosen.steps[step]),
            causes=chosen.steps[step],
            reasons=tuple(StepReason(before, reason) for before, reason in direct),
            rule=placed.rule,
        )
        hold = knowledge.hold_points.get(step)
        if hold is None and found.record is None:
            return found
        return replace(
            found,
            passes=pass_mark(hold, scope, knowledge, self.configuration),
            to_reach=value_to_reach(hold, scope, knowledge, self.configuration),
            state=self._state(step, scope),
        )

    def _unplaced(self, step: str) -> PlanStep:
        """A step as it is in every plan, without its place in one and why it is there."""
        knowledge = self.knowledge
        repair, hold = knowledge.repairs.get(step), knowledge.hold_points.get(step)
        place, kind = knowledge.place_of(step), Step(step).kind
        counted = multiplicity(repair, self.context) if repair else Multiplicity(1.0, True)
        return PlanStep(
            number=0,
            step=step,
            kind="repair" if repair else "hold point" if hold else kind,
            title=knowledge.title(step),
            stage=self._stage(step),
            hours=self._hours(step),
            waits_hours=self._waits(step),
            times=counted,
            materials=tuple(step_materials(step, self.context)),
            cautions=(),
            causes=(),
            reasons=(),
            rule="",
            how=self._how(step),
            avoid=repair.avoid if repair else "",
            test=repair.test if repair else FOUND if kind is StepKind.FIND else "",
            if_fails=hold.if_fails if hold else "",
            lasts_years=repair.lasts_years if repair else None,
            reversible=repair.reversible if repair else True,
            note=place.reason if place else "",
            record=self.progress.last.get(step),
        )

    def _how(self, step: str) -> str:
        work, search = self.knowledge.work(step), self.search_of(step)
        if search is None:
            return work.how if work else ""
        criteria = self.knowledge.criteria
        parts = (f"{h}: {'; '.join(criteria[c].asks for c in found)}." for h, found in search.parts)
        return " ".join(["" if search.signs else "Make it happen first.", *parts]).lstrip()

    def _cautions(self, step: str, causes: Iterable[Cause]) -> tuple[str, ...]:
        """The step's own cautions, and those of the findings that call for it; people first."""
        work, place = self.knowledge.work(step), self.knowledge.place_of(step)
        own: tuple[str, ...] = work.cautions if work else ()
        if place is not None and Step(step).kind is StepKind.OPEN:
            own = place.open_cautions
        raised = [
            c
            for cause in causes
            if cause.kind == "finding"
            for c in self.graded.judgements[cause.by].best.cautions
        ]
        every = dict.fromkeys((*own, *raised))
        return tuple(sorted(every, key=lambda c: not self.knowledge.cautions[c].people))
