"""The command ``assess``: its commands, in the order in which help lists them.

Each command parses, calls and prints. Results go to standard output, messages to standard error.
Exit codes: 0 done, 2 the user's mistake, 3 a plugin's fault. No colour is used, so there is none
to turn off.
"""

from __future__ import annotations

import click

from assess.cli.hearing_commands import hear
from assess.cli.knowledge_commands import check, schema, subsystems
from assess.cli.options import Group
from assess.cli.paper_commands import card, letter, report
from assess.cli.reading_commands import (
    budget,
    calendar,
    grade,
    look,
    measure,
    plan,
    sheet,
    verdict,
    why,
)
from assess.cli.visit_commands import ask, form, new, visit
from assess.cli.work_commands import done
from assess.knowledge.plugin_faults import OWN_DISTRIBUTION


@click.group(cls=Group, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name=OWN_DISTRIBUTION)
def main() -> None:
    """Assess condition: from inspection answers to grades, an ordered plan and a verdict.

    A job file holds everything about one job. Start one with `assess new`, fill it with
    `assess ask` or an editor, then read `look`, `verdict`, `grade` and `plan`.
    """


IN_ORDER = (
    *(new, ask, visit, hear, form, letter, report),
    *(look, verdict, grade, plan, budget, calendar),
    *(card, done, measure, sheet, why),
    *(subsystems, check, schema),
)
for command in IN_ORDER:
    main.add_command(command)
