"""The commands that write papers: the letter, the report, the plan for the bench."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING

import click

from assess.base.errors import UserError
from assess.cli import completion
from assess.cli.options import (
    DATE,
    JOB,
    OUTPUT,
    OUTPUT_IF_WANTED,
    SCOPE,
    START,
    STRICT,
    WITHOUT,
    WORKSHOP,
    Command,
)
from assess.cli.shared import load_job, scope_of, warn_of_faults, write_page

if TYPE_CHECKING:
    from assess.knowledge.model_base import Scope


@click.command(cls=Command)
@JOB
@OUTPUT_IF_WANTED
@click.option("--text", "as_text", is_flag=True, help="Print it as text, for a mail.")
@DATE
@WORKSHOP
@WITHOUT
@STRICT
def letter(
    job: Path,
    output: Path | None,
    as_text: bool,
    day: dt.date,
    workshop: Path | None,
    strict: bool,
) -> None:
    """Write the letter to the owner: a page, or text.

    What was seen, the ways to go with their prices, what is recommended and why. Sender, sign-off,
    dates and numbers come from [letter] in the workshop profile, the address from [owner].
    """
    from assess.pages.letter import letter_page, letter_text

    if output is None and not as_text:
        raise UserError("name the page with -o FILE.html, or print the letter with --text")
    result = load_job(job, workshop, strict)
    if as_text:
        click.echo(letter_text(result, day), nl=False)
    if output is not None:
        write_page(output, letter_page(result, day), to_error=as_text)


@click.command(cls=Command)
@JOB
@OUTPUT
@SCOPE
@START
@DATE
@WORKSHOP
@WITHOUT
@STRICT
def report(
    job: Path,
    output: Path,
    scope: Scope | None,
    start: dt.date | None,
    day: dt.date,
    workshop: Path | None,
    strict: bool,
) -> None:
    """Write the full report as a page: letter, condition, plan, cost, figures, photographs.

    Photographs that the job file names are scaled and stand in the page itself.
    """
    from assess.pages.report import report_page

    result = load_job(job, workshop, strict)
    warn_of_faults((*result.sheet_faults, *result.figure_faults), strict)
    write_page(output, report_page(result, scope_of(result, scope), day, start))


@click.command(cls=Command)
@JOB
@OUTPUT
@SCOPE
@click.option("--bench", metavar="STAGE", help="The steps of one bench alone.")
@click.option(
    "--from",
    "first",
    metavar="STEP",
    shell_complete=completion.STEPS,
    help="Begin at a step: number, id or words.",
)
@START
@click.option("--how", is_flag=True, help="Add how each step is done.")
@WORKSHOP
@WITHOUT
@STRICT
def card(
    job: Path,
    output: Path,
    scope: Scope | None,
    bench: str | None,
    first: str | None,
    start: dt.date | None,
    how: bool,
    workshop: Path | None,
    strict: bool,
) -> None:
    """Write the plan as pages for the bench, to print.

    Steps to tick, with what to avoid and when each is done; hold points with the value to reach
    and blanks for readings; cautions where the danger is; what to cut and what to buy.
    """
    from assess.pages.card import CardChoice, card_page

    result = load_job(job, workshop, strict)
    warn_of_faults(result.sheet_faults, strict)
    chosen = result.plans[scope_of(result, scope)]
    write_page(output, card_page(result, chosen, CardChoice(bench, first, start, how)))
