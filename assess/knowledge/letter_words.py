"""The words of a letter to the owner: what lay people call the parts, and what is said to them.

A trade gives the owner's words for subsystems, components and findings, and sentences for what
it advises. What it leaves out is said in the neutral words below, or left to the report.
"""

from __future__ import annotations

from typing import Self

from pydantic import Field, model_validator

from assess.knowledge.model_base import Declared, Ref, Text


class FindingWords(Declared):
    """A criterion in the owner's words.

    Attributes:
        about: what it is about, as a noun, for something that may still be found.
        says: a clause for condition class 1, 2 and 3; an empty one is left out of the letter.
        outcomes: outcome, by its label -> a clause that goes before that of its class.
    """

    about: str = ""
    says: tuple[str, str, str] = ("", "", "")
    outcomes: dict[str, Text] = Field(default_factory=dict)

    def clause(self, label: str, condition: int) -> str:
        """What is said of an outcome; empty where the letter leaves it out.

        Args:
            label: the outcome in words.
            condition: its class, 1..3.
        """
        return self.outcomes.get(label) or self.says[condition - 1]


class WayWords(Declared):
    """One way to go, as the owner reads it: its name, and what it gives."""

    title: Text
    gives: Text


class LetterWays(Declared):
    """The ways to go, as the owner reads them."""

    leave: WayWords = WayWords.model_construct(
        title="Leave it as it is", gives="Nothing is spent now."
    )
    service: WayWords = WayWords.model_construct(
        title="A repair where it is", gives="It works again."
    )
    working: WayWords = WayWords.model_construct(title="Working order", gives="It works again.")
    full: WayWords = WayWords.model_construct(
        title="Full repair", gives="Every fault that we found is put right."
    )
    conserve: WayWords = WayWords.model_construct(
        title="Keep it safe", gives="Nothing gets worse. It is not used."
    )
    hand_over: WayWords = WayWords.model_construct(
        title="Hand it to a conservator or museum", gives="People who know rare things decide."
    )
    pass_on: WayWords = WayWords.model_construct(
        title="Find it a new owner", gives="Someone else looks after it."
    )
    salvage: WayWords = WayWords.model_construct(
        title="Keep it for parts", gives="Sound parts help others."
    )


class LetterAdvice(Declared):
    """What is recommended, one or two sentences for each verdict."""

    full: Text = "We recommend the full repair."
    working: Text = "We recommend a repair to working order."
    conserve: Text = "We recommend keeping it safe and not using it."
    salvage: Text = "We recommend keeping it for parts."
    look_further: Text = "We have not seen enough to recommend one way."
    leave: Text = "We recommend leaving it as it is."
    wait: Text = "We recommend keeping it safe until there is money or time."
    hand_over: Text = "We recommend asking a conservator or a museum."
    pass_on: Text = "We recommend finding it a new owner."


class LetterReasons(Declared):
    """Why, for each kind of reason; what is recommended says the rest."""

    evidence: Text = (
        "What you have is early, rare or unaltered, so it is kept as it is. We would only change "
        "that for a strong, written reason."
    )
    beyond_repair: Text = "What it cannot do without cannot sensibly be repaired."
    attached: Text = "You told us that it means much to you, and we let that count."
    nothing_to_do: Text = "Nothing that we saw calls for work now."
    money_or_time: Text = "Only money or time stands against the work. Waiting does no harm."
    usable: Text = "It can be used as it is."


class LetterMeanwhile(Declared):
    """Whether it may be used meanwhile, in the owner's words, for each answer.

    In ``harm``, ``{because}`` stands for what use would do.
    """

    danger: Text = "No. Please do not use it before the dangers named below are dealt with."
    evidence: Text = "No. Please leave it unused, since every use wears what is original."
    harm: Text = "Better not: {because}."
    stopped: Text = "It does not work at present. Please do not force it."
    unknown: Text = "We have not seen enough to say. Please leave it unused until we have."
    gently: Text = "Yes, gently and for a short while. Stop if anything changes."
    freely: Text = "Yes. Nothing that we saw speaks against it."


class LetterWords(Declared):
    """All words of the letter that belong to the trade.

    Attributes:
        subject: the line above the letter, before the title of the job.
        opening, closing: the first and last sentences, unless the workshop has its own.
        asks_meanwhile: the heading over whether it may be used meanwhile.
        worth: about money and value.
        left_out: why keeping it unused and giving it away are left out of the ways to go.
        keeping: how to keep it, and how long work lasts.
        subsystems: subsystem id -> the owner's name of it.
        parts: component id -> the owner's name of it.
        findings: criterion id -> its owner's words.
        household: caution id -> what it means for the household, where a finding raises it.
        bench_cautions: criterion id -> cautions that it raises at the bench alone, since what they
            warn of was only thought of, not found.
        ways, advice, reasons, meanwhile: sentences of those parts of the letter.
    """

    subject: Text = "What we found, and what we suggest"
    opening: Text = "Thank you for letting us look at it. This letter says what we found."
    closing: Text = "Please ask us about anything that is not clear. The decision is yours."
    asks_meanwhile: Text = "May it be used meanwhile?"
    worth: Text = "We give no valuation."
    left_out: Text = (
        "Keeping it unused and finding it a new owner are left out here, since you asked for a "
        "repair and it can be used."
    )
    keeping: str = ""
    subsystems: dict[str, Text] = Field(default_factory=dict)
    parts: dict[Ref, Text] = Field(default_factory=dict)
    findings: dict[Ref, FindingWords] = Field(default_factory=dict)
    household: dict[Ref, Text] = Field(default_factory=dict)
    bench_cautions: dict[Ref, tuple[Ref, ...]] = Field(default_factory=dict)
    ways: LetterWays = LetterWays.model_construct()
    advice: LetterAdvice = LetterAdvice.model_construct()
    reasons: LetterReasons = LetterReasons.model_construct()
    meanwhile: LetterMeanwhile = LetterMeanwhile.model_construct()


class UseHarms(Declared):
    """A finding with which use does harm, from a condition class on, and what it does.

    Attributes:
        findings: full ids of criteria.
        from_class: the condition class from which it holds.
        because: what use does, as a clause after "because".
    """

    findings: tuple[Ref, ...]
    from_class: int = Field(default=2, ge=1, le=3)
    because: Text
    source: str = ""

    @model_validator(mode="after")
    def _names_something(self) -> Self:
        if not self.findings:
            raise ValueError("names no finding")
        return self
