"""The command: parse, call, print.

Results go to standard output, messages to standard error. Exit codes: 0 done, 2 the user's
mistake, 3 a plugin's fault. No colour is used, so there is none to turn off.
"""

from __future__ import annotations

import datetime as dt
import sys
from collections.abc import Callable, Iterable
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from assess.base.errors import AssessError, KnowledgeError, UserError, did_you_mean

if TYPE_CHECKING:
    from assess.assessment import Assessment
    from assess.job.workshop_profile import Workshop
    from assess.knowledge.knowledge_base import PluginFault
    from assess.knowledge.model_base import Scope

JSON = click.option("--json", "as_json", is_flag=True, help="Print data instead of text.")
WORKSHOP = click.option(
    "--workshop",
    type=click.Path(path_type=Path),
    envvar="ASSESS_WORKSHOP",
    help="Workshop profile (or set ASSESS_WORKSHOP); a workshop.toml beside the job file is used.",
)
STRICT = click.option("--strict", is_flag=True, help="A plugin left out is an error (exit 3).")
SCOPE = click.option(
    "--scope",
    type=click.Choice(["stabilise", "playing", "full"]),
    help="How far to go; when left out, the scope of the verdict.",
)
JOB = click.argument("job", type=click.Path(path_type=Path))


def example(text: str) -> str:
    """An example for the end of a command's help."""
    return f"Example: {text}"


class Group(click.Group):
    """A group that prints expected errors as sentences, with their exit code."""

    def invoke(self, ctx: click.Context) -> Any:
        """Run a command; errors that are somebody's to mend never show a traceback."""
        try:
            return super().invoke(ctx)
        except AssessError as error:
            for line in str(error).splitlines():
                click.echo(f"assess: {line}", err=True)
            ctx.exit(error.exit_code)
        except BrokenPipeError:
            # A reader such as `head` that has seen enough is no error; the stream is
            # replaced so that the interpreter does not complain when it flushes it.
            sys.stdout = open("/dev/null", "w")  # noqa: SIM115
            ctx.exit(0)


@click.group(cls=Group, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="reed-organ-assess")
def main() -> None:
    """Assess an instrument: from inspection answers to grades, an ordered plan and a verdict.

    A job file holds everything about one instrument. Begin with `assess new`, fill it
    with `assess ask` or an editor, then read `grade`, `plan` and `verdict`.
    """


def _load(job: Path, workshop: Path | None, strict: bool) -> Assessment:
    from assess.assessment import assess
    from assess.job.job_file import load

    result = assess(load(job), workshop=_workshop(workshop, job))
    _warn(result.warnings, len(result.faults), strict)
    return result


def _warn(warnings: Iterable[object], faults: int, strict: bool) -> None:
    for warning in warnings:
        click.echo(f"warning: {warning}", err=True)
    if strict and faults:
        raise KnowledgeError(f"{faults} plugin(s) left out, and --strict is given")


def _scope(result: Assessment, given: Scope | None) -> Scope:
    verdict = result.verdict
    fallback: Scope = "stabilise" if verdict.name == "keep for parts" else "full"
    return given or verdict.scope or fallback


def _workshop(given: Path | None, job: Path | None = None) -> Workshop:
    from assess.job.workshop_profile import load_workshop

    beside = job.parent / "workshop.toml" if job else None
    if given is None and beside is not None and beside.is_file():
        given = beside
    return load_workshop(given)


def _show(
    result: Assessment,
    command: str,
    as_json: bool,
    data: Callable[[], Any],
    text: Callable[[], str],
    faults: Iterable[PluginFault] = (),
) -> None:
    from assess.output.json_data import envelope

    warnings = (*result.warnings, *map(str, faults))
    shown = envelope(command, data(), warnings) if as_json else text()
    click.echo(shown, nl=False)


@main.command(epilog=example("assess new visit.toml --title 'The one in the front room'"))
@click.argument("job", type=click.Path(path_type=Path))
@click.option("--title", default="", help="A title for the job.")
def new(job: Path, title: str) -> None:
    """Write a new job file, with every feature and number as a comment."""
    from assess.job.job_file import save_text
    from assess.output.job_template import blank_job
    from assess.plugin.registry import knowledge_in_use

    if job.exists():
        raise UserError(f"{job}: already there; nothing was changed")
    if not job.parent.is_dir():
        raise UserError(f"{job.parent}: there is no such folder")
    save_text(job, blank_job(knowledge_in_use(), title))
    click.echo(f"Wrote {job}. Next: assess ask {job}")


@main.command(epilog=example("assess ask visit.toml --only pneumatics"))
@JOB
@WORKSHOP
@click.option("--only", metavar="SUBSYSTEM", help="Ask about one subsystem.")
@click.option("--all", "everything", is_flag=True, help="Ask also what cannot be seen at a visit.")
@click.option("--again", is_flag=True, help="Ask also what has been answered.")
@click.option("--in-order", is_flag=True, help="Go part by part instead of by what tells most.")
def ask(
    job: Path,
    workshop: Path | None,
    only: str | None,
    everything: bool,
    again: bool,
    in_order: bool,
) -> None:
    """Ask one question after another; each answer is saved at once. Stop and resume at will.

    Dangers come first, then what tells most of the verdict a minute; it says when more
    looking would change nothing.
    """
    from assess.cli.interview import Interview
    from assess.output.grades import grade_span
    from assess.plugin.registry import knowledge_in_use

    knowledge = knowledge_in_use()
    if only is not None and only not in knowledge.subsystems:
        raise UserError(f'no subsystem "{only}"; {did_you_mean(only, knowledge.subsystems)}')
    talk = Interview(
        job,
        knowledge,
        _workshop(workshop, job),
        _read_line,
        click.echo,
        everything=everything,
        again=again,
        only=only,
        in_order=in_order or again,
    )
    result = talk.run()
    seen = 100 * result.graded.instrument.coverage
    click.echo(
        f"\nSaved in {job}: {seen:.0f} % seen, grade {grade_span(result.graded.instrument)}."
    )


def _read_line(prompt: str) -> str:
    click.echo(prompt, nl=False)
    line = sys.stdin.readline()
    if not line:
        click.echo()
        raise EOFError
    return line


@main.command(epilog=example("assess grade fixtures/one_strap.toml"))
@JOB
@WORKSHOP
@STRICT
@JSON
@click.option("--all", "every", is_flag=True, help="Show every finding.")
def grade(job: Path, workshop: Path | None, strict: bool, as_json: bool, every: bool) -> None:
    """Show subsystems and components with grade, condition class and what was seen."""
    from assess.output.grades import grades_text
    from assess.output.json_data import grades_data

    result = _load(job, workshop, strict)
    _show(result, "grade", as_json, lambda: grades_data(result), lambda: grades_text(result, every))


@main.command(epilog=example("assess plan fixtures/one_strap.toml --scope playing"))
@JOB
@WORKSHOP
@STRICT
@JSON
@SCOPE
@click.option("--why", "full_reasons", is_flag=True, help="Every reason of every step.")
def plan(
    job: Path,
    workshop: Path | None,
    strict: bool,
    as_json: bool,
    scope: Scope | None,
    full_reasons: bool,
) -> None:
    """Show the repair plan: numbered steps with hours, drying, hold points and cautions."""
    from assess.output.json_data import plan_data
    from assess.output.plans import plan_text

    result = _load(job, workshop, strict)
    chosen = result.plans[_scope(result, scope)]
    _show(
        result,
        "plan",
        as_json,
        lambda: plan_data(result, chosen),
        lambda: plan_text(result, chosen, full_reasons),
    )


class Money(click.ParamType):  # type: ignore[type-arg]
    """An amount of money, as 2500 or 2,500."""

    name = "amount"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        """The amount, or a plain refusal."""
        try:
            amount = float(str(value).replace(",", "").replace(" ", ""))
        except ValueError:
            self.fail(f"{value!r} is not an amount; write it as 2500", param, ctx)
        if not 0 <= amount < 1e12:
            self.fail(f"the amount must be 0 or more, not {value}", param, ctx)
        return amount


@main.command(
    epilog=example("assess budget fixtures/tight_budget.toml 4000"),
    context_settings={"ignore_unknown_options": True},
)
@JOB
@click.argument("amount", type=Money())
@click.option(
    "--playable/--unplayed",
    default=None,
    help="Whether it must play afterwards; it must unless the owner wishes only to stabilise it.",
)
@WORKSHOP
@STRICT
@JSON
def budget(
    job: Path,
    amount: float,
    playable: bool | None,
    workshop: Path | None,
    strict: bool,
    as_json: bool,
) -> None:
    """Show what an AMOUNT buys: the repairs that gain most, and what each next sum would add."""
    from assess.output.budgets import budget_text
    from assess.output.json_data import budget_data

    result = _load(job, workshop, strict)
    found = result.budget(result.job.owner.wish != "stabilise" if playable is None else playable)
    _show(
        result,
        "budget",
        as_json,
        lambda: budget_data(result, found, amount),
        lambda: budget_text(result, found, amount),
    )


@main.command(epilog=example("assess calendar fixtures/tight_budget.toml --start 2027-01-11"))
@JOB
@click.option(
    "--start",
    type=click.DateTime(["%Y-%m-%d"]),
    required=True,
    help="The first day at the bench, as 2027-01-11.",
)
@SCOPE
@WORKSHOP
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
    """Put the plan into days: one pair of hands, drying through nights and weekends."""
    from assess.output.calendars import calendar_text
    from assess.output.json_data import calendar_data

    result = _load(job, workshop, strict)
    chosen = result.plans[_scope(result, scope)]
    planner = result.planner
    put = planner.calendar(chosen, start.date())
    finish, chain = planner.finish(chosen, put), planner.longest_chain(chosen, put)
    if start.date() < dt.date.today():
        click.echo(f"warning: the start {start.date()} lies in the past", err=True)
    _show(
        result,
        "calendar",
        as_json,
        lambda: calendar_data(chosen, put, finish, chain),
        lambda: calendar_text(result, chosen, put, finish, chain),
    )


@main.command(epilog=example("assess verdict fixtures/flooded.toml"))
@JOB
@WORKSHOP
@STRICT
@JSON
def verdict(job: Path, workshop: Path | None, strict: bool, as_json: bool) -> None:
    """Show the verdict, its reasons, the cost range and what would change it."""
    from assess.output.json_data import verdict_data
    from assess.output.verdicts import verdict_text

    result = _load(job, workshop, strict)
    _show(result, "verdict", as_json, lambda: verdict_data(result), lambda: verdict_text(result))


@main.command(epilog=example("assess look fixtures/barely_inspected.toml --most 5"))
@JOB
@click.option("--most", type=click.IntRange(1), default=10, help="How many looks to list.")
@click.option("--all", "everything", is_flag=True, help="Also what cannot be seen in a home.")
@click.option("--assumed", is_flag=True, help="Show what is assumed of the unseen instead.")
@WORKSHOP
@STRICT
@JSON
def look(
    job: Path,
    most: int,
    everything: bool,
    assumed: bool,
    workshop: Path | None,
    strict: bool,
    as_json: bool,
) -> None:
    """Show what to look at next, what it could change, and what may come to light."""
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
        lambda: looks_text(result, found, everything),
    )


@main.command(epilog=example("assess why fixtures/one_strap.toml renew_straps"))
@JOB
@click.argument("identifier", nargs=-1, required=True)
@WORKSHOP
@STRICT
@JSON
def why(
    job: Path, identifier: tuple[str, ...], workshop: Path | None, strict: bool, as_json: bool
) -> None:
    """Show the reasons of a grade, finding, repair, step, place, caution or `verdict` by its id."""
    from assess.explain import why as reasons_of
    from assess.output.explanation_tree import tree_text
    from assess.output.json_data import why_data

    result = _load(job, workshop, strict)
    branch = reasons_of(result, " ".join(identifier))
    _show(result, "why", as_json, lambda: why_data(branch), lambda: tree_text(branch))


@main.command(epilog=example("assess measure fixtures/tight_budget.toml"))
@JOB
@WORKSHOP
@STRICT
@JSON
def measure(job: Path, workshop: Path | None, strict: bool, as_json: bool) -> None:
    """Show every computed value with its inputs, formula, source and uncertainty."""
    from assess.output.json_data import measures_data
    from assess.output.measures import measures_text

    result = _load(job, workshop, strict)
    faults = result.figure_faults
    _warn(faults, len(faults), strict)
    _show(
        result,
        "measure",
        as_json,
        lambda: measures_data(result),
        lambda: measures_text(result),
        faults,
    )


@main.command(epilog=example("assess sheet fixtures/tight_budget.toml cutting_list"))
@JOB
@click.argument("name", required=False)
@WORKSHOP
@STRICT
@JSON
def sheet(job: Path, name: str | None, workshop: Path | None, strict: bool, as_json: bool) -> None:
    """Print a sheet for the bench by its name, or list the sheets there are."""
    from assess.output.json_data import sheets_data
    from assess.output.measures import sheet_list, sheet_text

    result = _load(job, workshop, strict)
    faults = result.sheet_faults
    _warn(faults, len(faults), strict)
    if name is None:
        chosen, text = result.sheets, partial(sheet_list, result)
    else:
        chosen = {k: s for k, s in result.sheets.items() if name in (k, k.partition(".")[2])}
        if len(chosen) != 1:
            raise UserError(f'no sheet "{name}"; {did_you_mean(name, result.sheets)}')
        text = partial(sheet_text, result, *chosen.values())
    _show(result, "sheet", as_json, lambda: sheets_data(chosen), text, faults)


@main.command(epilog=example("assess subsystems"))
@JSON
def subsystems(as_json: bool) -> None:
    """List the installed subsystems, and plugins that had to be left out."""
    from assess.output.json_data import envelope, subsystems_data
    from assess.output.knowledge_lists import subsystems_text
    from assess.plugin.registry import knowledge_in_use

    knowledge = knowledge_in_use()
    if as_json:
        click.echo(envelope("subsystems", subsystems_data(knowledge)), nl=False)
        return
    click.echo(subsystems_text(knowledge), nl=False)


@main.command(epilog=example("assess check fixtures/*.toml"))
@click.argument("jobs", nargs=-1, type=click.Path(path_type=Path))
@JSON
def check(jobs: tuple[Path, ...], as_json: bool) -> None:
    """Check all declared knowledge, and any job files named."""
    from assess.assessment import assess
    from assess.job.job_file import load
    from assess.knowledge.lint import doubts
    from assess.output.json_data import envelope
    from assess.output.knowledge_lists import check_text
    from assess.plugin.registry import knowledge_in_use

    knowledge = knowledge_in_use()
    found = doubts(knowledge)
    mistakes: list[str] = []
    for job in jobs:
        try:
            mistakes += assess(load(job), knowledge=knowledge).configuration.questions
        except UserError as error:
            mistakes += str(error).splitlines()
    if as_json:
        data = {
            "faults": [str(f) for f in knowledge.faults],
            "doubts": found,
            "dropped": [f"{d.owner}: {d.field}: {d.target}: {d.reason}" for d in knowledge.dropped],
            "jobs": mistakes,
        }
        click.echo(envelope("check", data), nl=False)
    else:
        click.echo(check_text(knowledge, found, mistakes, len(jobs)), nl=False)
    if mistakes:
        raise click.exceptions.Exit(2)
    if knowledge.faults or found:
        raise click.exceptions.Exit(3)


if __name__ == "__main__":
    main()
