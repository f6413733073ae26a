"""Cells of a survey's file that a visit fills in: tried out with the job before they are saved."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from assess.assessment import Assessment, assess
from assess.base.text_files import edit_text, named_beside
from assess.job.job_edits import with_value
from assess.job.survey_edits import Cell, merge_cells
from assess.knowledge.surveys import Survey


def survey_path(result: Assessment, name: str) -> Path:
    """The file of a survey: the one that the job names, else one beside it with its name.

    Raises:
        JobFileError: it is a link that leads out of the folder of the job file.
    """
    job = Path(result.job.path)
    named = result.job.surveys.get(name)
    return named_beside(job, named or f"{job.stem}_{name.replace('.', '_')}.csv")


def fill_cells(result: Assessment, survey: Survey, cells: Sequence[Cell]) -> list[tuple[Cell, str]]:
    """Fill in cells of a survey's file, made where there is none, and name it in the job file.

    Args:
        result: the job as it stands.
        survey: what is declared of it.
        cells: what to fill in.

    Returns:
        Cells that were not filled in, since something else stands in them by now, with that.

    Raises:
        NotAcceptedError: the job could not be read with the cells; nothing is changed.
        JobFileError: a file cannot be read or written, or lies outside the folder of the job file.
    """
    job, path = Path(result.job.path), survey_path(result, survey.id)

    def accepted(trial: Path) -> None:
        surveys = {**result.job.surveys, survey.id: _beside(trial, job)}
        changed = result.job.model_copy(update={"surveys": surveys})
        assess(changed, knowledge=result.knowledge, workshop=result.workshop)

    left = merge_cells(path, survey, cells, accepted)
    if survey.id not in result.job.surveys and path.exists():
        named = _beside(path, job)
        edit_text(job, lambda text: with_value(text, ("surveys", survey.id), named))
    return left


def _beside(path: Path, job: Path) -> str:
    """Where a file lies, seen from the job file."""
    return path.relative_to(job.parent).as_posix()
