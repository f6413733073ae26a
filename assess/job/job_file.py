"""The job file: one TOML file with everything the user ever enters.

It is written in the words of its trade (:mod:`assess.job.words_of_file`): the table about the
object and the ids of the scopes have the trade's names, which are turned into the engine's own
when the file is read (:mod:`assess.job.job_reading`). Editing keeps comments and whatever else
the file holds (:mod:`assess.job.job_edits`).
"""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field

from assess.base.plain_numbers import Money, WrittenAsNumber, not_a_truth, written_as_day
from assess.base.toml_text import at
from assess.job.words_of_file import in_trade_words
from assess.knowledge.model_base import LocalId, Scope
from assess.knowledge.symptoms import Course
from assess.knowledge.trade import NEUTRAL, Trade

NOT_SEEN = "not seen"
NOT_APPLICABLE = "doesn't apply"
WHOLE = "whole"
"""What a photograph shows that is of no part alone."""
NO_NOTE = "-"
"""A note that takes the older note away."""

Year = Annotated[int, Field(ge=1500, le=9999)]
Weight = Annotated[int, Field(ge=0, le=3), WrittenAsNumber]
AnswerText = str | float | int
Day = Annotated[dt.date, BeforeValidator(written_as_day)]
FactText = Annotated[float | int | str, BeforeValidator(not_a_truth)]


class Strict(BaseModel):
    """Base of the job file's models: frozen, and strict about keys."""

    model_config = ConfigDict(frozen=True, extra="forbid", defer_build=True)


class Owner(Strict):
    """What the owner wants.

    Attributes:
        wish: how far the owner wants to go at most.
        keeps: whether the owner wants to keep it.
        ceiling: the most the owner will pay.
        worth: what the owner says it is worth, in money.
        attachment: 0 none .. 3 would not part with it.
        significance: 0 none .. 3 early, rare or unaltered.
        reason_to_use: the documented reason to bring a significant object back into use.
        name, address: to whom the letter goes, and the lines of the address.
        salutation: the first line of the letter; left out, it is made from the name.
    """

    wish: Scope | None = None
    keeps: bool | None = None
    ceiling: Money | None = None
    worth: Money | None = None
    attachment: Weight | None = None
    significance: Weight | None = None
    reason_to_use: str = ""
    notes: str = ""
    name: str = ""
    address: tuple[str, ...] = ()
    salutation: str = ""


class Unit(Strict):
    """One more unit of a part of which the object has several, besides the first.

    Attributes:
        id: what rows about it end with: ``hub-rear`` is the hub of the unit ``rear``.
        kind: the declared kind; may be left out where only one is declared.
        title: what it is called.
        stands: on the unit before it, or apart from the others.
    """

    id: LocalId
    kind: str = ""
    title: str = ""
    stands: Literal["on the one before", "apart"] = "on the one before"


class Identity(Strict):
    """Which object it is.

    Attributes:
        maker, model, serial: as it says itself, or as somebody has found out.
        year: when it was made.
        label: the words on its label, plate or stamp, as they stand there.
        provenance: who had it before, and how that is known.
    """

    maker: str = ""
    model: str = ""
    serial: str | int = ""
    year: Year | None = None
    label: str = ""
    provenance: str = ""


class Instrument(Strict):
    """The object of a job: further units of its parts, features it has or lacks, and numbers."""

    description: str = ""
    identity: Identity = Identity.model_construct()
    unit: tuple[Unit, ...] = ()
    features: dict[str, bool | str] = Field(default_factory=dict)
    facts: dict[str, FactText] = Field(default_factory=dict)


class Complaint(Strict):
    """Something that is wrong with the object, as it was told.

    Attributes:
        symptom: full id of a declared symptom.
        words: how it was put.
        came: suddenly or slowly.
        since: the year.
    """

    symptom: str
    words: str = ""
    came: Course | None = None
    since: Year | None = None


class Overhaul(Strict):
    """Earlier work: in which year, how far, and on which subsystem; left out, on all of it."""

    year: Year
    how_far: Scope = "full"
    subsystem: str = ""


class History(Strict):
    """What is told of the object before anyone looks at it; all of it is evidence.

    Attributes:
        works: whether it works; in the file the key is the trade's word for that.
        used: how often it is used.
        unused_since: the year since which it has not been used.
        now_at: where it is now; from the workshop it is not fetched again.
        opened: places that are open already: they are closed, but not opened.
        complaint: what is wrong with it.
        overhaul: earlier work.
    """

    works: Literal["well", "with faults", "partly", "not at all"] | None = None
    used: Literal["weekly", "now and then", "not used"] | None = None
    unused_since: Year | None = None
    now_at: Literal["the owner's", "the workshop", "elsewhere"] | None = None
    opened: tuple[str, ...] = ()
    complaint: tuple[Complaint, ...] = ()
    overhaul: tuple[Overhaul, ...] = ()


class Answer(Strict):
    """One answer with what goes with it."""

    answer: bool | AnswerText
    note: str = ""
    date: Day | None = None


class DoneRecord(Strict):
    """One step of the plan that was done, or a test that was tried.

    Attributes:
        step: as it stands in a plan: ``wheels.grease_hub`` or ``open wheels.axle``.
        date: the day.
        reading: what a test read.
        failed: a test that did not pass; it stays open.
        note: anything else.
    """

    step: str
    date: Day | None = None
    reading: AnswerText = ""
    failed: bool = False
    note: str = ""


class Job(Strict):
    """One job file, in the engine's own words.

    ``answers`` maps subsystem to criterion to answer; answers for subsystems that are not
    installed are kept as they are. ``surveys`` maps a survey's full id, quoted since it holds
    a dot, to a CSV file beside the job file; ``photographs`` maps a criterion's full id, or
    ``whole``, to files beside the job file; ``done`` are the records of work done.
    """

    format: Literal[1]
    title: str = ""
    date: Day | None = None
    owner: Owner = Owner.model_construct()
    instrument: Instrument = Instrument.model_construct()
    history: History = History.model_construct()
    answers: dict[str, dict[str, Answer]] = Field(default_factory=dict)
    surveys: dict[str, str] = Field(default_factory=dict)
    photographs: dict[str, tuple[str, ...]] = Field(default_factory=dict)
    done: tuple[DoneRecord, ...] = ()
    path: str = Field(default="", exclude=True)
    """Where it was read from, for messages; not part of the file."""
    text: str = Field(default="", exclude=True, repr=False)
    trade: Trade = Field(default=NEUTRAL, exclude=True, repr=False)
    """The words that the file is written in."""

    def where(self, *keys: str) -> str:
        """File, line and key of something in the file, for a message.

        Args:
            keys: the path to it, in the engine's own words.
        """
        return at(self.path or "job", self.text, in_trade_words(keys, self.trade))


NOT_IN_THE_FILE = ("path", "text", "trade")
