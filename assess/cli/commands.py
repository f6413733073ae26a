"""The command: parse, call, print.

Results go to standard output, messages to standard error. Exit codes: 0 done, 2 the user's
mistake, 3 a plugin's fault. No colour is used, so there is none to turn off.
"""

from __future__ import annotations

import datetime as dt
import shlex
import sys
from collections.abc import Callable, Iterable
from contextlib import AbstractContextManager, nullcontext
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from assess.base.errors import KnowledgeError, UserError, did_you_mean
from assess.cli.options import (
    IDS,
    JOB,
    JSON,
    MINUTES,
    OUTPUT,
    SCOPE,
    STRICT,
    TOOLS,
    WITHOUT,
    WORKSHOP,
    AmountCommand,
    Group,
    HearCommand,
    Money,
    UseOption,
    knowledge_of_call,
)

if TYPE_CHECKING:
    from assess.assessment import Assessment
    from assess.job.workshop_profile import Workshop
    from assess.knowledge.declaration import Survey
    from assess.knowledge.knowledge_base import Knowledge, PluginFault
    from assess.knowledge.model_base import Scope
    from assess.visit.session import VisitSession

DISTRIBUTION = "reed-organ-assess"


@click.group(cls=Group, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name=DISTRIBUTION)
def main() -> None:
    """Assess condition: from inspection answers to grades, an ordered plan and a verdict.

    A job file holds everything about one job. Start one with `assess new`, fill it with
    `assess ask` or an editor, then read `look`, `verdict`, `grade` and `plan`.
    """


def _load(job: Path, workshop: Path | None, strict: bool) -> Assessment:
    from assess.assessment import assess
    from assess.job.job_file import load

    knowledge = knowledge_of_call()
    shop = _workshop(workshop, job)
    result = assess(load(job, knowledge.trade), knowledge=knowledge, workshop=shop)
    _warn(result.warnings, len(result.faults), strict)
    return result


def _warn(warnings: Iterable[object], faults: int, strict: bool) -> None:
    for warning in warnings:
        click.echo(f"warning: {warning}", err=True)
    if strict and faults:
        raise KnowledgeError(f"--strict: {faults} plugin(s) left out")


def _scope(result: Assessment, given: Scope | None) -> Scope:
    return given or result.verdict.plan_scope


def _workshop(given: Path | None, job: Path | None = None) -> Workshop:
    from assess.job.workshop_profile import load_workshop

    beside = job.parent / "workshop.toml" if job else None
    if given is None and beside is not None and beside.is_file():
        given = beside
    return load_workshop(given, knowledge_of_call().trade)


def _show(
    result: Assessment,
    command: str,
    as_json: bool,
    data: Callable[[], Any],
    text: Callable[[], str],
    faults: Iterable[PluginFault] = (),
) -> None:
    from assess.output.json_data import envelope

    warnings = (*result.warnings, *(line for fault in faults for line in fault.lines()))
    shown = envelope(command, data(), warnings) if as_json else text()
    click.echo(shown, nl=False)


@main.command()
@click.argument("job", type=click.Path(path_type=Path))
@click.option("--title", default="", help="A title for the job.")
@WITHOUT
def new(job: Path, title: str) -> None:
    """Write a new job file, with every key as a comment."""
    from assess.base.text_files import save_text
    from assess.output.job_template import blank_job

    if job.exists():
        raise UserError(f"{job}: already exists; not changed")
    if not job.parent.is_dir():
        raise UserError(f"{job.parent}: there is no such folder")
    save_text(job, blank_job(knowledge_of_call(), title))
    name = shlex.quote(str(job))
    click.echo(f"Wrote {name}. Next: assess ask {name}")


@main.command()
@JOB
@WORKSHOP
@WITHOUT
@click.option("--only", metavar="SUBSYSTEM", help="Ask about one subsystem.")
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
    if only is None and not again and not paper:
        HistoryInterview(job, visit.knowledge, _read_line, click.echo).run()
    if paper:
        entry = PaperEntry(visit, _read_line, click.echo)
        _say_saved(job, entry.run(), entry.saved)
        return
    interview = Interview(visit, _read_line, click.echo)
    result = interview.run()
    if interview.unsaved:
        listed = ", ".join(interview.unsaved)
        raise UserError(f"{job}: these answers could not be saved: {listed}")
    _say_saved(job, result, interview.saved)


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
    shop = _workshop(workshop, job)
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
    line = sys.stdin.readline()
    if not line:
        click.echo()
        raise EOFError
    return line


@main.command()
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
        from assess.pages.visit_inbox import Inbox
        from assess.pages.visit_server import PORT, listen, qr_code
    except ModuleNotFoundError as error:
        extra = f"pip install '{DISTRIBUTION}[visit]'"
        raise UserError(f"visit: {error.name} is not installed; {extra}") from None

    inbox = Inbox(_visit(job, workshop, minutes, tools, everything=everything))
    _warn(inbox.visit.assessed().warnings, 0, False)
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


@main.command(cls=HearCommand)
@JOB
@click.argument("recordings", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--survey", "name", metavar="SURVEY", help="Which survey, if there are several.")
@click.option(
    "--date",
    "day",
    metavar="YYYY-MM-DD",
    type=click.DateTime(["%Y-%m-%d"]),
    help="The day of the recording; else today.",
)
@WORKSHOP
@WITHOUT
def hear(
    job: Path,
    recordings: tuple[Path, ...],
    name: str | None,
    day: dt.datetime | None,
    workshop: Path | None,
    **said: str,
) -> None:
    """Fill in a survey from RECORDINGS of its sound, as WAV files.

    Rows that were heard are marked with date and file. Rows entered by hand stay as they are;
    where they differ from what was heard, both are shown.
    """
    from assess.base.wording import counted
    from assess.pages.visit_data import survey_path
    from assess.visit.heard_surveys import enter_heard, hear_recording

    result = _load(job, workshop, False)
    survey = _survey_to_hear(result.knowledge, name)
    options = _said_of_recording(survey, said)
    with _progress(recordings) as progress:
        heard = [(one, hear_recording(result, survey, one, options)) for one in progress]
    on = day.date() if day else dt.date.today()
    entered = enter_heard(result, survey, survey_path(result, survey.id), heard, on)
    for recording, found in heard:
        click.echo("\n".join((f"{recording.name}:", *(f"  {line}" for line in found.says))))
    for one in entered.differences:
        click.echo(f"Kept {one.key} as entered by hand: {one.by_hand}. Heard: {one.heard}.")
    click.echo(f"{counted(entered.rows, 'row')} entered in {shlex.quote(str(entered.path))}.")


def _progress(recordings: tuple[Path, ...]) -> AbstractContextManager[Iterable[Path]]:
    """The recordings, with a bar on a terminal."""
    if not sys.stderr.isatty():
        return nullcontext(recordings)
    return click.progressbar(recordings, label="Listening", file=sys.stderr, show_pos=True)


def _survey_to_hear(knowledge: Knowledge, name: str | None) -> Survey:
    """The survey that is filled in."""
    known = {s.id: s for s in knowledge.surveys.values() if s.hears}
    if not known:
        raise UserError("no installed plugin can hear recordings")
    if name is None and len(known) == 1:
        return next(iter(known.values()))
    if name is None or name not in known:
        raise UserError(
            f"--survey: no such survey {name or ''!r}; {did_you_mean(name or '', known)}"
        )
    return known[name]


def _said_of_recording(survey: Survey, said: dict[str, str]) -> dict[str, str]:
    """The declared options with what was said, or the usual."""
    options = survey.hears.options if survey.hears else ()
    given = {o.id: said.get(f"heard_{o.id}", "") or o.usual for o in options}
    missing = [o for o in options if o.required and not given[o.id].strip()]
    if missing:
        raise UserError(f"give --{missing[0].id.replace('_', '-')}: {missing[0].says}")
    return given


@main.command()
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
    from assess.base.text_files import save_text
    from assess.inspection.visit_walk import VisitMeans
    from assess.job.job_file import parse
    from assess.pages.visit_form import form_page

    knowledge = knowledge_of_call()
    if job is None:
        blank = parse("format = 1\n", "", knowledge.trade)
        result = assess(blank, knowledge=knowledge, workshop=_workshop(workshop))
    else:
        result = _load(job, workshop, False)
    shop = result.workshop
    agreed = shop.visit_minutes if minutes is None else minutes
    means = VisitMeans(minutes=agreed or None, tools=_tools(tools, shop, knowledge))
    save_text(output, form_page(result, means, how))
    click.echo(f"Wrote {shlex.quote(str(output))}.")


@main.command()
@JOB
@click.option(
    "-o",
    "--output",
    metavar="FILE",
    type=click.Path(path_type=Path, dir_okay=False),
    help="The page to write.",
)
@click.option("--text", "as_text", is_flag=True, help="Print it as text, for a mail.")
@click.option(
    "--date",
    "day",
    metavar="YYYY-MM-DD",
    type=click.DateTime(["%Y-%m-%d"]),
    help="The date of the letter; else today.",
)
@WORKSHOP
@WITHOUT
@STRICT
def letter(
    job: Path,
    output: Path | None,
    as_text: bool,
    day: dt.datetime | None,
    workshop: Path | None,
    strict: bool,
) -> None:
    """Write the letter to the owner: a page, or text.

    What was seen, the ways to go with their prices, what is recommended and why. Sender, sign-off,
    dates and numbers come from [letter] in the workshop profile, the address from [owner].
    """
    from assess.base.text_files import save_text
    from assess.pages.letter import letter_page, letter_text

    if output is None and not as_text:
        raise UserError("name the page with -o FILE.html, or print the letter with --text")
    result = _load(job, workshop, strict)
    written = day.date() if day else dt.date.today()
    if as_text:
        click.echo(letter_text(result, written), nl=False)
    if output is not None:
        save_text(output, letter_page(result, written))
        click.echo(f"Wrote {shlex.quote(str(output))}.", err=as_text)


@main.command()
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
    from assess.output.json_data import assumed_data, looks_data
    from assess.output.looks import assumed_text, looks_text

    result = _load(job, workshop, strict)
    if assumed:
        _show(result, "look", as_json, lambda: assumed_data(result), lambda: assumed_text(result))
        return
    found = result.information_value.looks(most, everything=everything)
    _show(
        result,
        "look",
        as_json,
        lambda: looks_data(result, found),
        lambda: looks_text(result, found, everything, ids, most),
    )


@main.command()
@JOB
@click.option("--all", "every", is_flag=True, help="Also what makes the price uncertain.")
@WORKSHOP
@WITHOUT
@STRICT
@JSON
def verdict(job: Path, every: bool, workshop: Path | None, strict: bool, as_json: bool) -> None:
    """Show the recommendation, its price and reasons."""
    from assess.output.json_data import verdict_data
    from assess.output.verdicts import verdict_text

    result = _load(job, workshop, strict)
    _show(
        result,
        "verdict",
        as_json,
        lambda: verdict_data(result),
        lambda: verdict_text(result, every),
    )


@main.command()
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
    from assess.output.json_data import grades_data

    result = _load(job, workshop, strict)
    _show(
        result,
        "grade",
        as_json,
        lambda: grades_data(result),
        lambda: grades_text(result, every, ids),
    )


@main.command()
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
    from assess.output.json_data import plan_data
    from assess.output.plans import plan_text

    result = _load(job, workshop, strict)
    chosen = result.plans[_scope(result, scope)]
    _show(
        result,
        "plan",
        as_json,
        lambda: plan_data(result, chosen),
        lambda: plan_text(result, chosen, how, why),
    )


@main.command(cls=AmountCommand)
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
    from assess.output.budgets import budget_text
    from assess.output.json_data import budget_data

    result = _load(job, workshop, strict)
    found = result.budget(result.job.owner.wish != "stabilise" if usable is None else usable)
    _show(
        result,
        "budget",
        as_json,
        lambda: budget_data(result, found, amount),
        lambda: budget_text(result, found, amount, ids),
    )


@main.command()
@JOB
@click.option(
    "--start",
    metavar="YYYY-MM-DD",
    type=click.DateTime(["%Y-%m-%d"]),
    required=True,
    help="The first day: that of the visit.",
)
@SCOPE
@WORKSHOP
@WITHOUT
@STRICT
@JSON
def calendar(
    job: Path,
    start: dt.datetime,
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
    from assess.output.json_data import calendar_data

    result = _load(job, workshop, strict)
    chosen = result.plans[_scope(result, scope)]
    planner = result.planner
    put = planner.calendar(chosen, start.date())
    finish, chain = planner.finish(chosen, put), planner.longest_chain(chosen, put)
    if start.date() < dt.date.today():
        click.echo(f"warning: the start {start.date()} is in the past", err=True)
    _show(
        result,
        "calendar",
        as_json,
        lambda: calendar_data(result, chosen, put, finish, chain),
        lambda: calendar_text(result, chosen, put, finish, chain),
    )


@main.command()
@JOB
@OUTPUT
@SCOPE
@click.option("--bench", metavar="STAGE", help="The steps of one bench alone.")
@click.option("--from", "first", metavar="STEP", help="Begin at a step: number, id or words.")
@click.option(
    "--start",
    metavar="YYYY-MM-DD",
    type=click.DateTime(["%Y-%m-%d"]),
    help="The first day at the bench, for dates.",
)
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
    start: dt.datetime | None,
    how: bool,
    workshop: Path | None,
    strict: bool,
) -> None:
    """Write the plan as pages for the bench, to print.

    Steps to tick, with what to avoid and when each is done; hold points with the value to reach
    and blanks for readings; cautions where the danger is; what to cut and what to buy.
    """
    from assess.base.text_files import save_text
    from assess.pages.card import CardChoice, card_page

    result = _load(job, workshop, strict)
    _warn(
        (line for f in result.sheet_faults for line in f.lines()), len(result.sheet_faults), strict
    )
    chosen = result.plans[_scope(result, scope)]
    choice = CardChoice(bench, first, start.date() if start else None, how)
    save_text(output, card_page(result, chosen, choice))
    click.echo(f"Wrote {shlex.quote(str(output))}.")


@main.command()
@JOB
@click.argument("step", nargs=-1, required=True)
@click.option("--reading", default="", help="What a test read, with its unit.")
@click.option("--failed", is_flag=True, help="The hold point did not pass; it stays open.")
@click.option(
    "--date",
    "day",
    metavar="YYYY-MM-DD",
    type=click.DateTime(["%Y-%m-%d"]),
    help="The day; else today.",
)
@click.option("--undo", is_flag=True, help="Take the last record of the step out again.")
@SCOPE
@WORKSHOP
@WITHOUT
def done(
    job: Path,
    step: tuple[str, ...],
    reading: str,
    failed: bool,
    day: dt.datetime | None,
    undo: bool,
    scope: Scope | None,
    workshop: Path | None,
) -> None:
    """Write into the job file that a STEP is done.

    A STEP is a number of the plan, an id, or words of its title; or several numbers, as 3 5-8.
    A reading that does not reach the value of a hold point leaves it open, as --failed does.
    """
    from assess.base.text_files import edit_text
    from assess.job.job_file import DoneRecord
    from assess.job.progress import with_done, without_done
    from assess.output.progress import done_text, undone_text
    from assess.planning.step_names import steps_meant

    result = _load(job, workshop, False)
    wanted = _scope(result, scope)
    steps = steps_meant(result.plans[wanted], step, result.knowledge)
    if undo:
        _refuse_unrecorded(steps, result)
        edit_text(job, lambda text: without_done(text, steps))
        click.echo(undone_text(result, steps), nl=False)
        return
    _refuse_reading(steps, reading, failed, result)
    on = day.date() if day else dt.date.today()
    records = [DoneRecord(step=s, date=on, reading=reading, failed=failed) for s in steps]
    edit_text(job, lambda text: with_done(text, records))
    after = _load(job, workshop, False)
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


@main.command()
@JOB
@IDS
@WORKSHOP
@WITHOUT
@STRICT
@JSON
def measure(job: Path, ids: bool, workshop: Path | None, strict: bool, as_json: bool) -> None:
    """Show computed values with formula and source."""
    from assess.output.json_data import measures_data
    from assess.output.measures import measures_text

    result = _load(job, workshop, strict)
    faults = result.figure_faults
    _warn((line for f in faults for line in f.lines()), len(faults), strict)
    _show(
        result,
        "measure",
        as_json,
        lambda: measures_data(result),
        lambda: measures_text(result, ids),
        faults,
    )


@main.command()
@JOB
@click.argument("name", required=False)
@WORKSHOP
@WITHOUT
@STRICT
@JSON
def sheet(job: Path, name: str | None, workshop: Path | None, strict: bool, as_json: bool) -> None:
    """Print a sheet for the bench, or list them."""
    from assess.output.json_data import sheets_data
    from assess.output.measures import sheet_list, sheet_text

    result = _load(job, workshop, strict)
    faults = result.sheet_faults
    _warn((line for f in faults for line in f.lines()), len(faults), strict)
    if name is None:
        chosen, text = result.sheets, partial(sheet_list, result)
    else:
        chosen = {k: s for k, s in result.sheets.items() if name in (k, k.partition(".")[2])}
        if len(chosen) != 1:
            raise UserError(f'no sheet "{name}"; {did_you_mean(name, result.sheets)}')
        text = partial(sheet_text, result, *chosen.values())
    _show(result, "sheet", as_json, lambda: sheets_data(chosen), text, faults)


@main.command()
@JOB
@click.argument("identifier", nargs=-1, required=True)
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
    from assess.output.json_data import why_data

    result = _load(job, workshop, strict)
    node = reasons_of(result, " ".join(identifier))
    _show(result, "why", as_json, lambda: why_data(node), lambda: tree_text(node))


@main.command()
@WITHOUT
@JSON
def subsystems(as_json: bool) -> None:
    """List the installed subsystems."""
    from assess.output.json_data import envelope, subsystems_data
    from assess.output.knowledge_lists import subsystems_text

    knowledge = knowledge_of_call()
    if as_json:
        click.echo(envelope("subsystems", subsystems_data(knowledge)), nl=False)
        return
    click.echo(subsystems_text(knowledge), nl=False)


@main.command()
@click.argument("jobs", nargs=-1, type=click.Path(path_type=Path))
@WORKSHOP
@WITHOUT
@JSON
def check(jobs: tuple[Path, ...], workshop: Path | None, as_json: bool) -> None:
    """Check plugins, job files and a workshop profile."""
    from assess.knowledge.lint import doubts
    from assess.output.json_data import check_data, envelope
    from assess.output.knowledge_lists import check_text

    knowledge = knowledge_of_call()
    found = doubts(knowledge)
    mistakes = _profile_mistakes(workshop, knowledge)
    faults: list[str] = []
    for job in jobs:
        wrong, broken = _checked(job, knowledge)
        mistakes += wrong
        faults += broken
    if as_json:
        click.echo(envelope("check", check_data(knowledge, [*found, *faults], mistakes)), nl=False)
    else:
        files = len(jobs) + (workshop is not None)
        click.echo(check_text(knowledge, [*found, *faults], mistakes, files), nl=False)
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
    from assess.job.job_file import load

    try:
        result = assess(load(job, knowledge.trade), knowledge=knowledge)
    except UserError as error:
        return str(error).splitlines(), []
    except KnowledgeError as error:
        return [], [f"{job}: {line}" for line in str(error).splitlines()]
    faults = (*result.measured.faults, *result.sheet_faults, *result.figure_faults)
    lines = [f"{job}: {line}" for fault in faults for line in fault.lines()]
    return list(result.configuration.questions), list(dict.fromkeys(lines))


@main.command()
@click.argument("name", required=False)
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
