"""The words of one trade: what the object is called, and the scopes, verdicts and options.

The engine has neutral ids of its own (scope ``working``, verdict ``salvage``). What a person
reads or types comes from the ``[trade]`` table that one installed plugin declares; without it
the neutral words below stand in. A job file is written in the words of its trade.
"""

from __future__ import annotations

import re
from typing import Annotated, Literal, Self, get_args

from pydantic import Field, model_validator

from assess.knowledge.letter_words import LetterWords, UseHarms
from assess.knowledge.model_base import SCOPES, Declared, LocalId, Scope, Text
from assess.knowledge.prior_beliefs import NEUTRAL_CARE, Care

VerdictName = Literal[
    "full",
    "working",
    "conserve",
    "salvage",
    "look_further",
    "leave",
    "wait",
    "hand_over",
    "pass_on",
]
VERDICT_IDS: tuple[VerdictName, ...] = get_args(VerdictName)
NEUTRAL_EXAMPLES = {
    "new": "assess new visit.toml",
    "report": "assess report job.toml -o report.html",
    "sheet": "assess sheet job.toml cutting_list",
    "budget": "assess budget job.toml 1000",
    "calendar": "assess calendar job.toml --start 2027-01-11",
    "hear": "assess hear job.toml take.wav",
    "form": "assess form -o form.html",
    "letter": "assess letter job.toml -o letter.html",
    "card": "assess card job.toml -o card.html",
    "done": "assess done job.toml 12",
    "why": "assess why job.toml verdict",
    "subsystems": "assess subsystems",
    "schema": "assess schema verdict",
}
"""An example of each command that needs more, or less, than a job file."""
OptionName = Annotated[str, Field(pattern=r"^[a-z][a-z-]*$")]


class ScopeWords(Declared):
    """What a scope is called: ``id`` where it is typed or written to a file, ``title`` in text."""

    id: LocalId
    title: Text


class ScopesWords(Declared):
    """The words of the three scopes."""

    stabilise: ScopeWords = ScopeWords.model_construct(id="stabilise", title="stabilise")
    working: ScopeWords = ScopeWords.model_construct(id="working", title="working order")
    full: ScopeWords = ScopeWords.model_construct(id="full", title="full repair")

    @model_validator(mode="after")
    def _told_apart(self) -> Self:
        ids = [getattr(self, scope).id for scope in SCOPES]
        if len(set(ids)) != len(ids):
            raise ValueError(f"two scopes have the same id: {', '.join(ids)}")
        return self


class WaysWords(Declared):
    """The words of the ways to go, where a table lists them all."""

    leave: Text = "leave it, use it"
    service: Text = "a service where it is"
    working: Text = "working order"
    full: Text = "full repair"
    conserve: Text = "keep it safe, unused"
    hand_over: Text = "to a museum"
    pass_on: Text = "to a new owner"
    salvage: Text = "keep for parts"


class VisitWords(Declared):
    """What the stops of a visit are called at which nothing is opened."""

    told: Text = "What the owner tells"
    dangers: Text = "Before anything is touched"
    used: Text = "In use"
    round: Text = "Round the outside"


class VerdictsWords(Declared):
    """The words of the verdicts."""

    full: Text = "full repair"
    working: Text = "repair to working order"
    conserve: Text = "keep it safe, out of use"
    salvage: Text = "keep for parts"
    look_further: Text = "look further first"
    leave: Text = "leave as it is"
    wait: Text = "keep it safe until there is money or time"
    hand_over: Text = "hand it to a conservator or museum"
    pass_on: Text = "find it a new owner"


class Trade(Declared):
    """The words of a trade, and the beliefs that hold in it.

    Attributes:
        noun: what is assessed, in the singular.
        table: the job file's table about it.
        use, uses: what it does when it is in order: "it works", "to make it work".
        usable_option, unusable_option: names of the options that say whether it must be usable
            after the work.
        reason_key: the job file's key, under ``[owner]``, for a documented reason to bring a
            significant object back into use.
        closing: the sentence about money and worth that ends a verdict.
        against: the heading over findings that advise against the work.
        examples: command -> an example of it, for ``--help``.
        visit: words of the stops of a visit.
        scopes, verdicts, ways: words of the scopes, the verdicts and the ways to go.
        letter: the words of the letter to the owner.
        use_harms: findings with which use does harm.
        care: what is believed before anything is seen.
    """

    noun: Text = "object"
    table: LocalId = "object"
    use: Text = "work"
    uses: Text = "works"
    usable_option: OptionName = "working"
    unusable_option: OptionName = "not-working"
    reason_key: LocalId = "reason_to_use"
    closing: Text = "The owner decides."
    against: Text = "Reasons against the work"
    examples: dict[str, Text] = Field(default_factory=dict)
    visit: VisitWords = VisitWords.model_construct()
    scopes: ScopesWords = ScopesWords.model_construct()
    verdicts: VerdictsWords = VerdictsWords.model_construct()
    ways: WaysWords = WaysWords.model_construct()
    letter: LetterWords = LetterWords.model_construct()
    use_harms: tuple[UseHarms, ...] = ()
    care: Care = NEUTRAL_CARE
    source: str = ""

    def scope_id(self, scope: Scope) -> str:
        """What a scope is called where it is typed or written to a file."""
        return self._scope(scope).id

    def scope_title(self, scope: Scope) -> str:
        """What a scope is called in text."""
        return self._scope(scope).title

    def scope_of(self, identifier: str) -> Scope | None:
        """The scope that a person names so, or None."""
        return next((s for s in SCOPES if self.scope_id(s) == identifier), None)

    def scope_ids(self) -> list[str]:
        """Every scope as it is typed, from the smallest."""
        return [self.scope_id(scope) for scope in SCOPES]

    def verdict(self, name: VerdictName) -> str:
        """What a verdict is called in text."""
        words: str = getattr(self.verdicts, name)
        return words

    def example(self, command: str) -> str:
        """An example of a command for its help."""
        neutral = NEUTRAL_EXAMPLES.get(command, f"assess {command} job.toml")
        return self.examples.get(command, neutral)

    @property
    def works_key(self) -> str:
        """The job file's key for whether it works: the trade's word, where it can be a key."""
        return self.uses if re.fullmatch(r"[a-z][a-z0-9_]*", self.uses) else "works"

    def _scope(self, scope: Scope) -> ScopeWords:
        words: ScopeWords = getattr(self.scopes, scope)
        return words


NEUTRAL = Trade.model_construct()
"""The words where no installed plugin declares a trade."""
