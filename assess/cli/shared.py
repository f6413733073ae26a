"""What the commands share: the job that a call is about, its warnings, and what it shows."""

from __future__ import annotations

import os
import shlex
from collections.abc import Callable, Iterable
from pathlib import Path
from types import ModuleType
from typing import TYPE_CHECKING, Any

import click

from assess.base.errors import KnowledgeError
from assess.cli.options import knowledge_of_call
from assess.cli.printing import complain
from assess.knowledge.plugin_faults import OWN_DISTRIBUTION

if TYPE_CHECKING:
    from assess.assessment import Assessment
    from assess.job.workshop_profile import Workshop
    from assess.knowledge.model_base import Scope
    from assess.knowledge.plugin_faults import PluginFault


def load_job(job: Path, workshop: Path | None, strict: bool = False) -> Assessment:
    """The assessment of a job file; its warnings are said.

    Raises:
        UserError: a mistake in the job file or the workshop profile.
        KnowledgeError: a plugin was left out, where ``strict`` asks for all.
    """
    from assess.assessment import assess
    from assess.job.job_reading import load

    knowledge = knowledge_of_call()
    shop = workshop_of_call(workshop, job)
    result = assess(load(job, knowledge.trade), knowledge=knowledge, workshop=shop)
    warn(result.warnings)
    _refuse_faults(len(result.faults), strict)
    return result


def workshop_of_call(given: Path | None, job: Path | None = None) -> Workshop:
    """The profile that a call names, else the one beside the job file, else the defaults."""
    from assess.job.workshop_profile import load_workshop

    if given is None and job is not None:
        beside = job.parent / "workshop.toml"
        # A job file may have that name itself.
        is_job = os.path.exists(job) and os.path.exists(beside) and os.path.samefile(beside, job)
        given = beside if os.path.isfile(beside) and not is_job else None
    return load_workshop(given, knowledge_of_call().trade)


def scope_of(result: Assessment, given: Scope | None) -> Scope:
    """The scope that a call asks for, else that of the verdict."""
    return given or result.verdict.plan_scope


def warn(warnings: Iterable[object]) -> None:
    """Say warnings on standard error."""
    complain(warnings, "warning")


def warn_of_faults(faults: Iterable[PluginFault], strict: bool) -> tuple[str, ...]:
    """Say which plugins failed at this command; the lines, for what it shows.

    Raises:
        KnowledgeError: some did, and ``strict`` asks for all.
    """
    listed = tuple(faults)
    lines = tuple(line for fault in listed for line in fault.lines())
    warn(lines)
    _refuse_faults(len(listed), strict)
    return lines


def _refuse_faults(faults: int, strict: bool) -> None:
    if strict and faults:
        raise KnowledgeError(f"--strict: {faults} plugin(s) left out")


def show(
    as_json: bool,
    data: Callable[[ModuleType], Any],
    text: Callable[[], str | Iterable[str]],
    warnings: Iterable[str] = (),
) -> None:
    """Print what a command shows.

    Args:
        as_json: print data instead of text.
        data: the data, by :mod:`assess.output.json_data`, which is imported only for it.
        text: the text, or its parts, each of which is printed as soon as it is there.
        warnings: told with the data.
    """
    if as_json:
        from assess.output import json_data

        command = click.get_current_context().command.name or ""
        click.echo(json_data.envelope(command, data(json_data), tuple(warnings)), nl=False)
    else:
        from assess.output.layout import in_turn

        found = text()
        for part in (found,) if isinstance(found, str) else in_turn(found):
            click.echo(part, nl=False)


def to_install(error: ModuleNotFoundError, extra: str) -> str:
    """Which optional package is missing, and how to install it."""
    package = "pillow" if error.name == "PIL" else error.name
    return f"{package} is not installed; pip install '{OWN_DISTRIBUTION}[{extra}]'"


def write_page(output: Path, text: str, *, to_error: bool = False) -> None:
    """Save a page and say so; on standard error where the result itself is printed."""
    from assess.base.text_files import save_text

    save_text(output, text)
    click.echo(f"Wrote {shlex.quote(str(output))}.", err=to_error)
