"""From a job file to its grades: what is entered, what follows from it, and how it is judged."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from assess.grading.causes import with_causes
from assess.grading.grades import Graded, grade
from assess.grading.judgements import judge
from assess.grading.openings import with_openings
from assess.job.answers import GivenAnswer, read_answers
from assess.job.computed_values import (
    Measured,
    figures_of,
    inspection_of,
    measure_all,
    sheets_of,
    with_computed_facts,
)
from assess.job.configuration import Configuration, configuration_of
from assess.job.csv_surveys import SurveyTable, read_surveys
from assess.job.history import Told, read_history
from assess.job.job_file import Job
from assess.knowledge.knowledge_base import Knowledge
from assess.knowledge.plugin_faults import PluginFault
from assess.knowledge.trade import Trade
from assess.plugin.api import Figure, Inspection, Sheet


@dataclass(frozen=True)
class Entered:
    """What stands in a job file and in its surveys, read with the knowledge there is.

    Attributes:
        answers: by the full id of the criterion.
        told: what the owner says of the object before anyone looks.
        surveys: tables by their ids.
    """

    answers: dict[str, GivenAnswer]
    told: Told
    surveys: dict[str, SurveyTable]


@dataclass(frozen=True)
class Examined:
    """An object as far as it was looked at: what plugins compute from that, and its grades.

    Attributes:
        job, knowledge: what it was made from.
        entered: answers, what the owner says, and surveys.
        configuration: tags and facts of the object.
        inspection: what plugins were given to compute from.
        measured: what they computed.
        graded: judgements, findings and grades.
    """

    job: Job
    knowledge: Knowledge
    entered: Entered
    configuration: Configuration
    inspection: Inspection
    measured: Measured
    graded: Graded

    @property
    def told(self) -> Told:
        """What the owner says of the object before anyone looks."""
        return self.entered.told

    @property
    def trade(self) -> Trade:
        """The words of the trade."""
        return self.knowledge.trade

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

    @property
    def faults(self) -> tuple[PluginFault, ...]:
        """Plugins that could not be used, or could not compute."""
        return self.knowledge.faults + self.measured.faults


def read_entered(job: Job, knowledge: Knowledge) -> Entered:
    """What stands in a job file and in its surveys.

    Raises:
        JobFileError: the job says something that nobody can read.
    """
    answers, told = read_answers(job, knowledge), read_history(job, knowledge)
    return Entered(answers, told, read_surveys(job, knowledge))


def examine(job: Job, knowledge: Knowledge, entered: Entered) -> Examined:
    """Compute what plugins can from what was entered, and grade it.

    Raises:
        JobFileError: the job says something impossible.
    """
    answers, told = entered.answers, entered.told
    configuration = configuration_of(job, knowledge, answers)
    inspection = inspection_of(answers, knowledge, configuration, entered.surveys)
    measured = measure_all(knowledge, inspection)
    configuration = with_computed_facts(configuration, measured, knowledge)
    judgements = judge(job, knowledge, configuration, answers, measured.values)
    judgements = with_causes(with_openings(judgements), told, knowledge)
    failed = {f.subsystem for f in measured.faults if f.subsystem}
    graded = grade(judgements, knowledge, failed)
    return Examined(job, knowledge, entered, configuration, inspection, measured, graded)
