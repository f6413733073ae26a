"""The commands about what is installed: subsystems, mistakes, and schemas."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from assess.base.errors import KnowledgeError, UserError, did_you_mean
from assess.cli import completion
from assess.cli.options import JSON, WITHOUT, WORKSHOP, Command, knowledge_of_call
from assess.cli.shared import show

if TYPE_CHECKING:
    from assess.knowledge.knowledge_base import Knowledge


@click.command(cls=Command)
@WITHOUT
@JSON
def subsystems(as_json: bool) -> None:
    """List the installed subsystems."""
    from assess.output.knowledge_lists import subsystems_text

    knowledge = knowledge_of_call()
    show(as_json, lambda data: data.subsystems_data(knowledge), lambda: subsystems_text(knowledge))


@click.command(cls=Command)
@click.argument("jobs", nargs=-1, type=click.Path(path_type=Path))
@WORKSHOP
@WITHOUT
@JSON
def check(jobs: tuple[Path, ...], workshop: Path | None, as_json: bool) -> None:
    """Check plugins, job files and a workshop profile."""
    from assess.knowledge.lint import doubts
    from assess.output.knowledge_lists import check_text

    knowledge = knowledge_of_call()
    found = doubts(knowledge)
    mistakes = _profile_mistakes(workshop, knowledge)
    faults: list[str] = []
    for job in jobs:
        wrong, broken = _checked(job, knowledge)
        mistakes += wrong
        faults += broken
    files = len(jobs) + (workshop is not None)
    show(
        as_json,
        lambda data: data.check_data(knowledge, [*found, *faults], mistakes),
        lambda: check_text(knowledge, [*found, *faults], mistakes, files),
    )
    if mistakes:
        raise click.exceptions.Exit(UserError.exit_code)
    if knowledge.faults or found or faults:
        raise click.exceptions.Exit(KnowledgeError.exit_code)


def _profile_mistakes(workshop: Path | None, knowledge: Knowledge) -> list[str]:
    """What is wrong in a workshop profile."""
    from assess.job.workshop_profile import load_workshop, unknown_ids

    if workshop is None:
        return []
    try:
        profile = load_workshop(workshop, knowledge.trade)
    except UserError as error:
        return str(error).splitlines()
    return [f"{workshop}: {line}" for line in unknown_ids(profile, knowledge)]


def _checked(job: Path, knowledge: Knowledge) -> tuple[list[str], list[str]]:
    """What is wrong in a job file, and which plugins fail on it."""
    from assess.assessment import assess
    from assess.job.job_reading import load

    try:
        result = assess(load(job, knowledge.trade), knowledge=knowledge)
    except UserError as error:
        return str(error).splitlines(), []
    except KnowledgeError as error:
        return [], [f"{job}: {line}" for line in str(error).splitlines()]
    faults = (*result.measured.faults, *result.sheet_faults, *result.figure_faults)
    lines = [f"{job}: {line}" for fault in faults for line in fault.lines()]
    return list(result.configuration.questions), list(dict.fromkeys(lines))


@click.command(cls=Command)
@click.argument("name", required=False, shell_complete=completion.SCHEMAS)
@WITHOUT
def schema(name: str | None) -> None:
    """Print a JSON Schema of a file or an output.

    Without a NAME it lists what there is: declaration, job, workshop, and the output of
    every command that has --json.
    """
    from assess.output.schemas import schema_names, schema_text

    if name is None:
        click.echo("\n".join(schema_names()))
        return
    if name not in schema_names():
        raise UserError(f'no schema "{name}"; {did_you_mean(name, schema_names())}')
    click.echo(schema_text(name, knowledge_of_call()), nl=False)
