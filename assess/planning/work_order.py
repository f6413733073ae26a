"""The order of work on one object: what the knowledge declares, with searches put into it.

A fault is reproduced before anything is cured, because a cure that happens to hide it proves
nothing. It is reproduced before anything is taken apart that its tests do not need open, because
an object in pieces no longer shows it. Only dangers to people and live infestations go before it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property

from assess.knowledge.knowledge_base import Knowledge
from assess.knowledge.precedence_graph import ARRIVED, Precedence, Reason
from assess.knowledge.steps import Step, StepKind
from assess.planning.fault_finding import Search

BEFORE_CURES = "a fault is made to happen before anything is cured"
BEFORE_OPENING = "taken apart, it no longer shows the fault"


@dataclass(frozen=True)
class WorkOrder:
    """The order of declared work, with the searches of one job put into it.

    Attributes:
        declared: the order of declared work.
        knowledge: what the plugins declare.
        searches: the searches of the job.
        urgent: repairs called for that go before everything, searches too.
    """

    declared: Precedence
    knowledge: Knowledge
    searches: tuple[Search, ...] = ()
    urgent: frozenset[str] = frozenset()

    def among(self, steps: Iterable[str]) -> dict[str, frozenset[str]]:
        """For some steps, which of them come after each."""
        chosen = frozenset(steps)
        found = [s for s in self.searches if s.step in chosen]
        after = self.declared.among(chosen - {s.step for s in found})
        if not found:
            return after
        followers = {s.step: self._all_followers(s, after) for s in found}
        before = {s.step: self._predecessors[s.step] for s in found}
        changed = {
            step: later.union(
                *({s.step} | followers[s.step] for s in found if step in before[s.step])
            )
            for step, later in after.items()
        }
        return {step: frozenset(later) for step, later in sorted((changed | followers).items())}

    def direct(self, step: str, steps: Mapping[str, object]) -> list[tuple[str, Reason]]:
        """Every direct reason that puts a step after another of the given steps."""
        found = [s for s in self.searches if s.step in steps]
        own = next((s for s in found if s.step == step), None)
        if own is not None:
            return self._reasons_of_search(own, steps)
        reasons = self.declared.direct(step, steps)
        chosen = frozenset(steps) if found else frozenset()
        for search in found:
            if step in self._next_steps(search, chosen):
                reasons.append((search.step, self._followers[search.step][step]))
        return reasons

    def _all_followers(self, search: Search, after: Mapping[str, frozenset[str]]) -> frozenset[str]:
        """Everything among some steps that comes after a search, directly or through others."""
        direct = self._followers[search.step].keys() & after.keys()
        return frozenset(direct).union(*(after[step] for step in direct))

    def _next_steps(self, search: Search, chosen: frozenset[str]) -> frozenset[str]:
        """The steps among some that follow a search and no other step that follows it."""
        key = (search.step, chosen)
        if key not in self._known_next:
            direct = self._followers[search.step].keys() & chosen
            later = (self.declared.descendants[step] for step in direct)
            self._known_next[key] = frozenset(direct.difference(*later))
        return self._known_next[key]

    @cached_property
    def _known_next(self) -> dict[tuple[str, frozenset[str]], frozenset[str]]:
        return {}

    @cached_property
    def _followers(self) -> dict[str, dict[str, Reason]]:
        """For each search every declared step that comes directly after it, and why."""
        found: dict[str, dict[str, Reason]] = {}
        for search in self.searches:
            reasons = ((s, self._reason_to_follow(search, s)) for s in self.knowledge.steps)
            found[search.step] = {step: reason for step, reason in reasons if reason}
        return found

    @cached_property
    def _predecessors(self) -> dict[str, frozenset[str]]:
        """For each search all that comes before it: the arrival, and what opens its places."""
        found: dict[str, frozenset[str]] = {}
        for search in self.searches:
            ends = self._openings(search) | {ARRIVED}
            after = self.declared.descendants.items()
            found[search.step] = frozenset(
                step for step, later in after if step in ends or not later.isdisjoint(ends)
            )
        return found

    def _openings(self, search: Search) -> frozenset[str]:
        return frozenset(map(Step.opening, search.places))

    @cached_property
    def _first(self) -> frozenset[str]:
        """What no search may hold up: urgent work, and what opens the places of any search."""
        return self.urgent.union(*map(self._openings, self.searches))

    def _reason_to_follow(self, search: Search, step: Step) -> Reason | None:
        """Why a step comes directly after a search, if it does."""
        later = self.declared.descendants[step]
        if step in self._first or not later.isdisjoint(self._first):
            return None
        if step.kind is StepKind.OPEN:
            return Reason(BEFORE_OPENING, "trade")
        if step.kind is StepKind.CLOSE:
            if step.target not in search.places:
                return None
            return Reason(f"then this is closed: {self._place(step.target)}", "access")
        work = self.knowledge.work(step)
        if work is None:
            return None
        if work.phase == "departure":
            noun = self.knowledge.trade.noun
            return Reason(f"all work is done before the {noun} leaves", "phase")
        is_cure = step in self.knowledge.repairs and work.when == "called"
        return Reason(BEFORE_CURES, "trade") if is_cure and work.phase == "work" else None

    def _reasons_of_search(
        self, search: Search, steps: Mapping[str, object]
    ) -> list[tuple[str, Reason]]:
        return [
            (opening, Reason(f"needs this open: {self._place(Step(opening).target)}", "access"))
            for opening in sorted(self._openings(search))
            if opening in steps
        ]

    def _place(self, place: str) -> str:
        title = self.knowledge.places[place].title
        return title[:1].lower() + title[1:]
