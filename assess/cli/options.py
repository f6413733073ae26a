"""Arguments, options and kinds of commands that the commands share.

What the trade names (the ids of scopes, the options about use, the examples) is filled in when a
command is looked up, so that the version and the list of commands need no plugins.
"""

from __future__ import annotations

import datetime as dt
import math
import os
import re
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from assess.base.errors import AssessError, PluginInterrupted, UserError, did_you_mean
from assess.base.guards import MOST_MONEY
from assess.cli import completion
from assess.cli.printing import OutputError, complain, harmless_streams, short_refusals

if TYPE_CHECKING:
    from assess.knowledge.knowledge_base import Knowledge
    from assess.knowledge.model_base import Scope
    from assess.knowledge.trade import Trade

INTERRUPTED = 130
"""The exit code of a program that was stopped by its user, by custom."""
F = TypeVar("F", bound=Callable[..., Any])
Option = Callable[[F], F]

AMOUNT = re.compile(r"([0-9]{1,3}([, ][0-9]{3})+|[0-9]{1,15})(\.[0-9]{1,2})?")
"""An amount of money as it is typed: 2500, 2,500 or 2500.50."""
MOST_MINUTES = 1440.0
COMPLETING = "_ASSESS_COMPLETE"
"""The variable by which a shell asks for words."""


def _without(ctx: click.Context, param: click.Parameter, names: tuple[str, ...]) -> None:
    ctx.obj = names


def knowledge_of_call() -> Knowledge:
    """The knowledge of the plugins that this call of the command uses."""
    from assess.plugin.registry import knowledge_in_use

    ctx = click.get_current_context(silent=True)
    return knowledge_in_use((ctx.obj or ()) if ctx is not None else ())


def trade_of_call() -> Trade:
    """The words of the trade, or the neutral words if the plugins cannot be loaded."""
    from assess.knowledge.trade import NEUTRAL

    try:
        return knowledge_of_call().trade
    except UserError:
        return NEUTRAL


class ScopeName(click.ParamType):  # type: ignore[type-arg]
    """A scope by the name that the trade gives it."""

    name = "scope"

    def get_metavar(self, param: click.Parameter, ctx: click.Context) -> str:
        """The names, as help shows them."""
        return f"[{'|'.join(trade_of_call().scope_ids())}]"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> Scope:
        """The engine's own id of the scope, or a plain refusal."""
        trade = trade_of_call()
        scope = trade.scope_of(str(value))
        if scope is None:
            known = ", ".join(trade.scope_ids())
            self.fail(f"{value!r} is not one of: {known}", param, ctx)
        return scope


class Money(click.ParamType):  # type: ignore[type-arg]
    """An amount of money, as 2500 or 2,500."""

    name = "amount"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        """The amount, or a plain refusal."""
        if not AMOUNT.fullmatch(str(value)):
            self.fail(f"{value!r} is not an amount; write it as 2500 or 2500.50", param, ctx)
        amount = float(re.sub("[, ]", "", str(value)))
        if amount > MOST_MONEY:
            self.fail(f"{value} is more than any amount", param, ctx)
        return amount


class Minutes(click.FloatRange):
    """Minutes of one visit."""

    def __init__(self) -> None:
        super().__init__(0, MOST_MINUTES)

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        """The minutes, or a plain refusal."""
        minutes = float(super().convert(value, param, ctx))
        if math.isnan(minutes):
            self.fail(f"{value} is no number of minutes", param, ctx)
        return minutes + 0.0


class Day(click.DateTime):
    """A day, as 2027-01-11."""

    def __init__(self) -> None:
        super().__init__(["%Y-%m-%d"])

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """The day, or a plain refusal."""
        return value if type(value) is dt.date else super().convert(value, param, ctx).date()


class UseOption(click.Option):
    """The pair of options that says whether it must be usable; the trade names them."""

    def in_words_of(self, trade: Trade) -> None:
        """Take the trade's names."""
        self.opts = [f"--{trade.usable_option}"]
        self.secondary_opts = [f"--{trade.unusable_option}"]
        self.help = f"Whether it must {trade.use} afterwards."


JOB = click.argument("job", type=click.Path(path_type=Path))
JSON = click.option("--json", "as_json", is_flag=True, help="Print data instead of text.")
IDS = click.option("--ids", is_flag=True, help="Show ids, as `why` takes them.")
WORKSHOP = click.option(
    "--workshop",
    metavar="FILE",
    type=click.Path(path_type=Path),
    envvar="ASSESS_WORKSHOP",
    help="Workshop profile (or ASSESS_WORKSHOP).",
)
STRICT = click.option("--strict", is_flag=True, help="A plugin left out is an error (exit 3).")
WITHOUT = click.option(
    "--without",
    metavar="PLUGIN",
    multiple=True,
    is_eager=True,
    expose_value=False,
    callback=_without,
    shell_complete=completion.plugins,
    help="Leave out a plugin (or ASSESS_PLUGINS).",
)


def _output(required: bool) -> Option[Any]:
    return click.option(
        "-o",
        "--output",
        metavar="FILE",
        type=click.Path(path_type=Path, dir_okay=False),
        required=required,
        help="The page to write.",
    )


def _day(*names: str, **settings: Any) -> Option[Any]:
    return click.option(*names, metavar="YYYY-MM-DD", type=Day(), **settings)


OUTPUT = _output(required=True)
OUTPUT_IF_WANTED = _output(required=False)
DATE = _day("--date", "day", default=dt.date.today, help="The date; else today.")
DATE_OF_RECORDING = _day(
    "--date", "day", default=dt.date.today, help="The day of the recording; else today."
)
START = _day("--start", help="First day at the bench, for dates.")
START_OF_VISIT = _day("--start", required=True, help="The first day: that of the visit.")
MINUTES = click.option(
    "--minutes",
    type=Minutes(),
    help="Minutes agreed for the visit; 0 for as long as it takes.",
)
TOOLS = click.option(
    "--with",
    "tools",
    metavar="TOOLS",
    multiple=True,
    shell_complete=completion.TOOLS,
    help="Tools in the bag, with commas.",
)
SCOPE = click.option(
    "--scope",
    type=ScopeName(),
    shell_complete=completion.SCOPES,
    help="How far to go; else the verdict's scope.",
)


class Group(click.Group):
    """A group that prints expected errors as sentences, with their exit code."""

    def main(self, *args: Any, **extra: Any) -> Any:
        """Parse and run, with everything that is printed made harmless."""
        with harmless_streams():
            try:
                return super().main(*args, **extra)
            except OutputError as error:
                click.echo(f"assess: {error}", err=True)
                sys.exit(error.exit_code)
            except ValueError:
                # A shell that asks for words and says nothing sensible gets none.
                if COMPLETING not in os.environ:
                    raise
                sys.exit(1)

    def invoke(self, ctx: click.Context) -> Any:
        """Run a command; errors that somebody can correct never show a traceback."""
        try:
            with short_refusals():
                return super().invoke(ctx)
        except OutputError:
            raise
        except AssessError as error:
            complain([error])
            ctx.exit(error.exit_code)
        except (KeyboardInterrupt, click.Abort) as error:
            click.echo(err=True)  # below what the terminal shows of the keys
            complain([error if isinstance(error, PluginInterrupted) else "interrupted"])
            ctx.exit(INTERRUPTED)
        except BrokenPipeError:
            # A reader such as `head` that has seen enough is no error.
            ctx.exit(0)

    def make_context(self, *args: Any, **kwargs: Any) -> click.Context:
        """Parse the options before the command."""
        with short_refusals():
            return super().make_context(*args, **kwargs)

    def list_commands(self, ctx: click.Context) -> list[str]:
        """The commands in the order in which they are used."""
        return list(self.commands)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """A command by its name; a slip gets the nearest names."""
        found = super().get_command(ctx, cmd_name)
        if found is None:
            ctx.fail(f"No such command {cmd_name!r}; {did_you_mean(cmd_name, self.commands)}")
        return found


class Command(click.Command):
    """A command that speaks the words of the trade."""

    def make_context(self, *args: Any, **kwargs: Any) -> click.Context:
        """Take the trade's names of options before the command line is parsed."""
        for param in self.params:
            if isinstance(param, UseOption):
                param.in_words_of(trade_of_call())
        return super().make_context(*args, **kwargs)

    def format_epilog(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """An example from the trade."""
        formatter.write_paragraph()
        formatter.write_text(f"Example: {trade_of_call().example(ctx.info_name or '')}")


class AmountCommand(Command):
    """A command with an amount of money: one below zero is not taken for an option."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Refuse an amount below zero in words."""
        below_zero = next((arg for arg in args if re.match(r"-\d", arg)), None)
        if below_zero:
            ctx.fail(f"the amount must be 0 or more, not {below_zero}")
        return super().parse_args(ctx, args)


class HearCommand(Command):
    """A command whose further options are declared by the surveys that can be heard."""

    def get_params(self, ctx: click.Context) -> list[click.Parameter]:
        """The command's own parameters, and what must be said of a recording."""
        surveys = knowledge_of_call().surveys.values()
        declared = {o.id: o for s in surveys if s.hears for o in s.hears.options}
        more: list[click.Parameter] = [
            click.Option(
                [f"--{name.replace('_', '-')}", f"heard_{name}"],
                multiple=True,
                metavar="TEXT",
                help=o.says,
            )
            for name, o in declared.items()
        ]
        own = super().get_params(ctx)
        return [*own[:-1], *more, own[-1]]


Group.command_class = Command
