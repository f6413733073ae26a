"""The commands of a visit: a new job file, the walk in the terminal or as a page, and its form."""

from __future__ import annotations

import os
import shlex
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from assess.base.errors import UserError, did_you_mean
from assess.cli import completion
from assess.cli.options import (
    JOB,
    MINUTES,
    OUTPUT,
    TOOLS,
    WITHOUT,
    WORKSHOP,
    Command,
    knowledge_of_call,
)
from assess.cli.shared import load_job, to_install, warn, workshop_of_call, write_page

if TYPE_CHECKING:
    from assess.assessment import Assessment
    from assess.job.workshop_profile import Workshop
    from assess.knowledge.knowledge_base import Knowledge
    from assess.visit.session import VisitSession


@click.command(cls=Command)
@JOB
@click.option("--title", default="", help="A title for the job.")
@WITHOUT
def new(job: Path, title: str) -> None:
    """Write a new job file, with every key as a comment."""
    from assess.base.text_files import save_text
    from assess.output.job_template import blank_job

    if os.path.lexists(job):
        raise UserError(f"{job}: already exists; not changed")
    if not os.path.isdir(job.parent):
        raise UserError(f"{job.parent}: there is no such folder")
    save_text(job, blank_job(knowledge_of_call(), title))
    name = shlex.quote(str(job))
    click.echo(f"Wrote {name}. Next: assess ask {name}")


@click.command(cls=Command)
@JOB
@WORKSHOP
@WITHOUT
@click.option(
    "--only",
    metavar="SUBSYSTEM",
    shell_complete=completion.SUBSYSTEMS,
    help="Ask about one subsystem.",
)
@click.option("--all", "everything", is_flag=True, help="Also what only the workshop shows.")
@click.option("--again", is_flag=True, help="Also what has been answered.")
@click.option("--from-paper", "paper", is_flag=True, help="Type in a visit form, by its numbers.")
@MINUTES
@TOOLS
def ask(
    job: Path,
    workshop: Path | None,
    only: str | None,
    everything: bool,
    again: bool,
    minutes: float | None,
    tools: tuple[str, ...],
    paper: bool,
) -> None:
    """Walk through a visit, question by question, and save each answer.

    First what the owner tells, then dangers, then what shows in use, then round the outside,
    then each place once. Stop and resume whenever you like. What does not fit into the minutes
    is left out, what tells least first, and named at the end. --minutes 0 asks everything.
    """
    from assess.cli.history_interview import HistoryInterview
    from assess.cli.interview import Interview
    from assess.cli.paper_entry import PaperEntry

    visit = _visit(job, workshop, minutes, tools, only=only, everything=everything, again=again)
    told = HistoryInterview(visit, _read_line, click.echo)
    part = (PaperEntry if paper else Interview)(visit, _read_line, click.echo)
    try:
        if only is None and not again and not paper:
            told.run()
        result = part.run()
    finally:
        # However it ends, nothing that was typed is lost.
        unsaved = [*told.unsaved.values(), *part.unsaved.values()]
        if unsaved:
            lines = "".join(f"\n  {line}" for line in unsaved)
            click.echo(f"{job}: these answers could not be saved:{lines}", err=True)
    if unsaved:
        raise click.exceptions.Exit(UserError.exit_code)
    _say_saved(job, result, part.saved)


@click.command(cls=Command)
@JOB
@click.option("--phone", is_flag=True, help="For a phone in the same network, too.")
@click.option("--port", type=click.IntRange(0, 65535), help="Another port than the usual one.")
@click.option("--all", "everything", is_flag=True, help="Also what only the workshop shows.")
@MINUTES
@TOOLS
@WORKSHOP
@WITHOUT
def visit(
    job: Path,
    phone: bool,
    port: int | None,
    everything: bool,
    minutes: float | None,
    tools: tuple[str, ...],
    workshop: Path | None,
) -> None:
    """Serve the visit as a page, for this machine or a phone near it.

    The same walk as `assess ask`, with a stopwatch, a counter, grids to tap and photographs. It
    needs no internet. Whoever has the address that is printed can read and change this job
    file while the command runs, and the network carries it unencrypted: use one of your own.
    """
    try:
        import PIL  # noqa: F401 - missed now, not at the first photograph

        from assess.pages.visit_inbox import Inbox
        from assess.pages.visit_server import PORT, listen, qr_code
    except ModuleNotFoundError as error:
        raise UserError(f"visit: {to_install(error, 'visit')}") from None

    inbox = Inbox(_visit(job, workshop, minutes, tools, everything=everything))
    warn(inbox.visit.assessed().warnings)
    served = listen(inbox, phone, PORT if port is None else port)
    if phone:
        click.echo(qr_code(served.addresses[0]))
    click.echo("\n".join(served.addresses))
    where = "Open the first address on the phone, or the last one here" if phone else "Open it"
    click.echo(f"{where}, in a browser. Ctrl-C ends it; what is saved stays saved.")
    sys.stdout.flush()
    try:
        served.run()
    except KeyboardInterrupt:
        served.close()
    _say_saved(job, inbox.visit.assessed(), inbox.saved)


@click.command(cls=Command)
@click.argument("job", type=click.Path(path_type=Path), required=False)
@OUTPUT
@click.option("--how", is_flag=True, help="Also how to look, for each question.")
@MINUTES
@TOOLS
@WORKSHOP
@WITHOUT
def form(
    job: Path | None,
    output: Path,
    how: bool,
    minutes: float | None,
    tools: tuple[str, ...],
    workshop: Path | None,
) -> None:
    """Write the sheets of a visit as a page to print: boxes to tick, blanks, room for notes.

    The questions stand in the order of the visit, as many as fit into its minutes; with a job
    file, what it says already is on them. Type them in with `assess ask JOB --from-paper`.
    """
    from assess.assessment import assess
    from assess.inspection.visit_stops import VisitMeans
    from assess.job.job_reading import parse
    from assess.pages.visit_form import form_page

    knowledge = knowledge_of_call()
    if job is None:
        blank = parse("format = 1\n", "", knowledge.trade)
        result = assess(blank, knowledge=knowledge, workshop=workshop_of_call(workshop))
    else:
        result = load_job(job, workshop)
    shop = result.workshop
    agreed = shop.visit_minutes if minutes is None else minutes
    means = VisitMeans(minutes=agreed or None, tools=_tools(tools, shop, knowledge))
    write_page(output, form_page(result, means, how))


def _tools(given: tuple[str, ...], shop: Workshop, knowledge: Knowledge) -> frozenset[str]:
    """The tools in the bag besides the usual ones, by the call and the profile."""
    held = [*shop.tools, *(tool for names in given for tool in names.split(",") if tool)]
    for tool in held:
        if tool not in knowledge.tools:
            raise UserError(f"no tool {tool!r}; {did_you_mean(tool, knowledge.tools)}")
    return frozenset(held)


def _say_saved(job: Path, result: Assessment, saved: int) -> None:
    """How much was saved, and how things stand."""
    from assess.output.grades import grade_span

    seen = 100 * result.graded.instrument.coverage
    if not saved:
        click.echo(f"\nNothing new to save in {job}: {seen:.0f} % seen.")
        return
    grade = grade_span(result.graded.instrument)
    click.echo(f"\nSaved in {job}: {seen:.0f} % seen, grade {grade}.")


def _visit(
    job: Path,
    workshop: Path | None,
    minutes: float | None,
    tools: tuple[str, ...],
    *,
    only: str | None = None,
    everything: bool = False,
    again: bool = False,
) -> VisitSession:
    """A visit with the time and the tools that the call or the profile gives it."""
    from assess.visit.session import VisitSession

    knowledge = knowledge_of_call()
    if only is not None and only not in knowledge.subsystems:
        raise UserError(f'no subsystem "{only}"; {did_you_mean(only, knowledge.subsystems)}')
    shop = workshop_of_call(workshop, job)
    agreed = shop.visit_minutes if minutes is None else minutes
    return VisitSession(
        path=job,
        knowledge=knowledge,
        workshop=shop,
        agreed_min=None if everything or again or not agreed else agreed,
        tools=_tools(tools, shop, knowledge),
        everything=everything,
        again=again,
        only=only,
    )


def _read_line(prompt: str) -> str:
    click.echo(prompt, nl=False)
    # Standard input that is closed is None.
    line = sys.stdin.readline() if sys.stdin else ""
    if not line:
        click.echo()
        raise EOFError
    return line
