"""May it be used until something is done, and what would use do to it?

A danger to people comes first, then what must be kept as evidence, then findings with which use
does harm. What was hardly looked at is not cleared.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from assess.decision.rules import Setting, is_evidence
from assess.grading.grades import Graded
from assess.grading.judgements import Judgement
from assess.knowledge.further_unit import declared_row
from assess.knowledge.letter_words import UseHarms

InterimAnswer = Literal["danger", "evidence", "harm", "stopped", "unknown", "gently", "freely"]
GUESS = 5
"""The class of an estimate that is no more than a guess: too little was seen to clear anything."""


@dataclass(frozen=True)
class InterimUse:
    """Whether it may be used meanwhile.

    Attributes:
        answer: ``danger``, ``evidence``, ``harm`` or ``stopped``: no; ``unknown``: not cleared;
            ``gently`` or ``freely``: yes.
        because: what use would do, each a clause.
        findings: what the answer rests on.
    """

    answer: InterimAnswer
    because: tuple[str, ...] = ()
    findings: tuple[Judgement, ...] = ()

    @property
    def allowed(self) -> bool:
        """Whether it may be used."""
        return self.answer in ("gently", "freely")


def interim_use(graded: Graded, setting: Setting) -> InterimUse:
    """Whether it may be used until something is done.

    Args:
        graded: what was seen.
        setting: owner, workshop, words, and what is told.
    """
    findings = graded.findings
    dangers = tuple(f for f in findings if f.outcome.danger)
    if dangers:
        return InterimUse("danger", findings=dangers)
    if is_evidence(graded, setting):
        return InterimUse("evidence")
    harms = [(f, harm) for f in findings for harm in setting.trade.use_harms if _does(f, harm)]
    if harms:
        because = dict.fromkeys(harm.because for _, harm in harms)
        return InterimUse("harm", tuple(because), tuple(f for f, _ in harms))
    if setting.told.history.works == "not at all":
        return InterimUse("stopped")
    if setting.workshop.estimate_class(graded.instrument.coverage).number >= GUESS:
        return InterimUse("unknown")
    faulty = tuple(f for f in findings if f.stops_use)
    return InterimUse("gently", findings=faulty) if faulty else InterimUse("freely")


def _does(finding: Judgement, harm: UseHarms) -> bool:
    """Whether use does harm with a finding; that of a further unit is that of the first."""
    row = declared_row(finding.id)
    return row in harm.findings and finding.outcome.condition >= harm.from_class
