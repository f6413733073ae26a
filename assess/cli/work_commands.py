"""The command that writes down work that is done."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

import click

from assess.base.errors import UserError
from assess.cli import completion
from assess.cli.options import DATE, JOB, SCOPE, WITHOUT, WORKSHOP, Command
from assess.cli.shared import load_job, scope_of

if TYPE_CHECKING:
    from assess.assessment import Assessment
    from assess.knowledge.model_base import Scope


@click.command(cls=Command)
@JOB
@click.argument("step", nargs=-1, required=True, shell_complete=completion.STEPS)
@click.option("--reading", default="", help="What a test read, with its unit.")
@click.option("--failed", is_flag=True, help="The hold point did not pass; it stays open.")
@DATE
@click.option("--undo", is_flag=True, help="Take the last record of the step out again.")
@SCOPE
@WORKSHOP
@WITHOUT
def done(
    job: Path,
    step: tuple[str, ...],
    reading: str,
    failed: bool,
    day: dt.date,
    undo: bool,
    scope: Scope | None,
    workshop: Path | None,
) -> None:
    """Write into the job file that a STEP is done.

    A STEP is a number of the plan, an id, or words of its title; or several numbers, as 3 5-8.
    A reading that does not reach the value of a hold point leaves it open, as --failed does.
    """
    from assess.base.text_files import edit_text
    from assess.job.job_edits import with_done, without_done
    from assess.job.job_file import DoneRecord
    from assess.output.progress import done_text, undone_text
    from assess.planning.step_names import steps_meant

    result = load_job(job, workshop)
    wanted = scope_of(result, scope)
    steps = steps_meant(result.plans[wanted], step, result.knowledge)
    if undo:
        _refuse_unrecorded(steps, result)
        edit_text(job, lambda text: without_done(text, steps))
        click.echo(undone_text(result, steps), nl=False)
        return
    _refuse_reading(steps, reading, failed, result)
    records = [DoneRecord(step=s, date=day, reading=reading, failed=failed) for s in steps]
    edit_text(job, lambda text: with_done(text, records))
    after = load_job(job, workshop)
    click.echo(done_text(after, after.plans[wanted], steps), nl=False)


def _refuse_unrecorded(steps: Iterable[str], result: Assessment) -> None:
    """Refuse to take out a record that is not there."""
    for step in steps:
        if step not in result.progress.last:
            title = result.knowledge.title(step)
            raise UserError(f"{title!r} is not recorded as done, so there is nothing to undo")


def _refuse_reading(steps: list[str], reading: str, failed: bool, result: Assessment) -> None:
    """Refuse a failure or a reading that the steps cannot have."""
    from assess.planning.pass_marks import reading_fault

    holds = result.knowledge.hold_points
    if reading and len(steps) > 1:
        raise UserError("a reading belongs to one step; give one STEP with --reading")
    for step in steps:
        if failed and step not in holds:
            title = result.knowledge.title(step)
            raise UserError(f"{title!r} is no hold point, so it cannot fail; leave --failed out")
        if (
            reading
            and step in holds
            and (fault := reading_fault(holds[step], reading, result.knowledge))
        ):
            raise UserError(f"--reading: {fault}")
