"""The commands that read: what to look at, the verdict, grades, the plan and what goes with it."""

from __future__ import annotations

import datetime as dt
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import click

from assess.base.errors import UserError, did_you_mean
from assess.cli import completion
from assess.cli.options import (
    IDS,
    JOB,
    JSON,
    SCOPE,
    START_OF_VISIT,
    STRICT,
    WITHOUT,
    WORKSHOP,
    AmountCommand,
    Command,
    Money,
    UseOption,
)
from assess.cli.shared import load_job, scope_of, show, warn, warn_of_faults

if TYPE_CHECKING:
    from assess.knowledge.model_base import Scope


@click.command(cls=Command)
@JOB
@click.option("--most", type=click.IntRange(1), default=10, help="How many lines to list.")
@click.option("--all", "everything", is_flag=True, help="Also what only the workshop shows.")
@click.option("--assumed", is_flag=True, help="What is assumed about unseen parts.")
@IDS
@WORKSHOP
@WITHOUT
@STRICT
@JSON
def look(
    job: Path,
    most: int,
    everything: bool,
    assumed: bool,
    ids: bool,
    workshop: Path | None,
    strict: bool,
    as_json: bool,
) -> None:
    """Show what to look at next, and what may be hidden."""
    from assess.output.looks import assumed_text, looks_text

    result = load_job(job, workshop, strict)
    if assumed:
        show(
            as_json,
            lambda data: data.assumed_data(result),
            lambda: assumed_text(result),
            result.warnings,
        )
        return
    found = result.information_value.looks(most, everything=everything)
    show(
        as_json,
        lambda data: data.looks_data(result, found),
        lambda: looks_text(result, found, everything, ids, most),
        result.warnings,
    )


@click.command(cls=Command)
@JOB
@click.option("--all", "every", is_flag=True, help="Also what makes the price uncertain.")
@WORKSHOP
@WITHOUT
@STRICT
@JSON
def verdict(job: Path, every: bool, workshop: Path | None, strict: bool, as_json: bool) -> None:
    """Show the recommendation, its price and reasons."""
    from assess.output.verdicts import verdict_parts

    result = load_job(job, workshop, strict)
    show(
        as_json,
        lambda data: data.verdict_data(result),
        lambda: verdict_parts(result, every),
        result.warnings,
    )


@click.command(cls=Command)
@JOB
@click.option("--all", "every", is_flag=True, help="Every finding and assumption.")
@IDS
@WORKSHOP
@WITHOUT
@STRICT
@JSON
def grade(
    job: Path, every: bool, ids: bool, workshop: Path | None, strict: bool, as_json: bool
) -> None:
    """Show grades, condition classes and findings."""
    from assess.output.grades import grades_text

    result = load_job(job, workshop, strict)
    show(
        as_json,
        lambda data: data.grades_data(result),
        lambda: grades_text(result, every, ids),
        result.warnings,
    )


@click.command(cls=Command)
@JOB
@SCOPE
@click.option("--how", is_flag=True, help="Add how each step is done.")
@click.option("--why", "why", is_flag=True, help="Add every reason of every step.")
@WORKSHOP
@WITHOUT
@STRICT
@JSON
def plan(
    job: Path,
    scope: Scope | None,
    how: bool,
    why: bool,
    workshop: Path | None,
    strict: bool,
    as_json: bool,
) -> None:
    """Show the repair plan: steps in working order."""
    from assess.output.plans import plan_text

    result = load_job(job, workshop, strict)
    chosen = result.plans[scope_of(result, scope)]
    show(
        as_json,
        lambda data: data.plan_data(result, chosen),
        lambda: plan_text(result, chosen, how, why),
        result.warnings,
    )


@click.command(cls=AmountCommand)
@JOB
@click.argument("amount", type=Money())
@click.option("--usable/--unusable", "usable", default=None, cls=UseOption)
@IDS
@WORKSHOP
@WITHOUT
@STRICT
@JSON
def budget(
    job: Path,
    amount: float,
    usable: bool | None,
    ids: bool,
    workshop: Path | None,
    strict: bool,
    as_json: bool,
) -> None:
    """Show what an AMOUNT of money buys.

    The repairs that gain most for it, and what each next sum would add. It must be usable
    afterwards, unless the owner only wants to stabilise it or you say otherwise.
    """
    from assess.output.budgets import budget_parts

    result = load_job(job, workshop, strict)
    found = result.budget(result.job.owner.wish != "stabilise" if usable is None else usable)
    show(
        as_json,
        lambda data: data.budget_data(result, found, amount),
        lambda: budget_parts(result, found, amount, ids),
        result.warnings,
    )


@click.command(cls=Command)
@JOB
@START_OF_VISIT
@SCOPE
@WORKSHOP
@WITHOUT
@STRICT
@JSON
def calendar(
    job: Path,
    start: dt.date,
    scope: Scope | None,
    workshop: Path | None,
    strict: bool,
    as_json: bool,
) -> None:
    """Show the plan in days, drying included.

    One pair of hands; drying goes on through nights and weekends. Visits, answers, orders and
    your days off are counted in.
    """
    from assess.output.calendars import calendar_text

    result = load_job(job, workshop, strict)
    chosen = result.plans[scope_of(result, scope)]
    planner = result.planner
    put = planner.calendar(chosen, start)
    finish, chain = planner.finish(chosen, put), planner.longest_chain(chosen, put)
    if start < dt.date.today():
        warn([f"the start {start} is in the past"])
    show(
        as_json,
        lambda data: data.calendar_data(result, chosen, put, finish, chain),
        lambda: calendar_text(result, chosen, put, finish, chain),
        result.warnings,
    )


@click.command(cls=Command)
@JOB
@IDS
@WORKSHOP
@WITHOUT
@STRICT
@JSON
def measure(job: Path, ids: bool, workshop: Path | None, strict: bool, as_json: bool) -> None:
    """Show computed values with formula and source."""
    from assess.output.measures import measures_text

    result = load_job(job, workshop, strict)
    lines = warn_of_faults(result.figure_faults, strict)
    show(
        as_json,
        lambda data: data.measures_data(result),
        lambda: measures_text(result, ids),
        (*result.warnings, *lines),
    )


@click.command(cls=Command)
@JOB
@click.argument("name", required=False, shell_complete=completion.SHEETS)
@WORKSHOP
@WITHOUT
@STRICT
@JSON
def sheet(job: Path, name: str | None, workshop: Path | None, strict: bool, as_json: bool) -> None:
    """Print a sheet for the bench, or list them."""
    from assess.output.measures import sheet_list, sheet_text

    result = load_job(job, workshop, strict)
    lines = warn_of_faults(result.sheet_faults, strict)
    if name is None:
        chosen, text = result.sheets, partial(sheet_list, result)
    else:
        chosen = {k: s for k, s in result.sheets.items() if name in (k, k.partition(".")[2])}
        if len(chosen) != 1:
            raise UserError(f'no sheet "{name}"; {did_you_mean(name, result.sheets)}')
        text = partial(sheet_text, result, *chosen.values())
    show(as_json, lambda data: data.sheets_data(chosen), text, (*result.warnings, *lines))


@click.command(cls=Command)
@JOB
@click.argument("identifier", nargs=-1, required=True, shell_complete=completion.IDS)
@WORKSHOP
@WITHOUT
@STRICT
@JSON
def why(
    job: Path, identifier: tuple[str, ...], workshop: Path | None, strict: bool, as_json: bool
) -> None:
    """Show the reasons of anything by its id.

    An id of a subsystem, component, criterion, repair, hold point, place or caution;
    `open PLACE` or `close PLACE`; `find SYMPTOM`; or `verdict`.
    """
    from assess.explain import why as reasons_of
    from assess.output.explanation_tree import tree_text

    result = load_job(job, workshop, strict)
    node = reasons_of(result, " ".join(identifier))
    show(as_json, lambda data: data.why_data(node), lambda: tree_text(node), result.warnings)
