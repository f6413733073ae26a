"""What the shell completes: ids, scopes, sheets, subsystems, plugins, tools and schemas.

What a call means so far may be incomplete or wrong; then nothing is proposed, and the command
itself says why.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING

import click

from assess.base.errors import AssessError

if TYPE_CHECKING:
    from click.shell_completion import CompletionItem

    from assess.assessment import Assessment
    from assess.knowledge.knowledge_base import Knowledge

Complete = Callable[[click.Context, click.Parameter, str], "list[CompletionItem]"]
Titled = Iterable[tuple[str, str]]
"""Words to propose, each with its title."""


def proposed(words: Titled, incomplete: str) -> list[CompletionItem]:
    """The words that begin as what was typed, then those whose last part does."""
    from click.shell_completion import CompletionItem

    return [
        CompletionItem(word, help=title)
        for word, title in sorted(words, key=lambda w: (not w[0].startswith(incomplete), w))
        if word.startswith(incomplete) or word.rpartition(".")[2].startswith(incomplete)
    ]


def of_knowledge(words: Callable[[Knowledge], Titled]) -> Complete:
    """Completion with words that follow from what is installed."""

    def complete(ctx: click.Context, _: click.Parameter, incomplete: str) -> list[CompletionItem]:
        from assess.plugin.registry import knowledge_in_use

        try:
            return proposed(words(knowledge_in_use(ctx.obj or ())), incomplete)
        except AssessError:
            return []

    return complete


def of_job(words: Callable[[Assessment], Titled]) -> Complete:
    """Completion with words that follow from the job file of the call."""

    def complete(ctx: click.Context, _: click.Parameter, incomplete: str) -> list[CompletionItem]:
        from assess.assessment import assess
        from assess.job.job_reading import load
        from assess.plugin.registry import knowledge_in_use

        if ctx.params.get("job") is None:
            return []
        try:
            knowledge = knowledge_in_use(ctx.obj or ())
            job = load(Path(ctx.params["job"]), knowledge.trade)
            return proposed(words(assess(job, knowledge=knowledge)), incomplete)
        except AssessError:
            return []

    return complete


def ids_of(knowledge: Knowledge) -> Titled:
    """Every id that can be asked about with ``why``."""
    yield "verdict", "the recommendation"
    tables = (
        *(knowledge.subsystems, knowledge.components, knowledge.repairs, knowledge.hold_points),
        *(knowledge.places, knowledge.cautions),
    )
    for table in tables:
        yield from ((name, getattr(thing, "title", "")) for name, thing in table.items())
    yield from ((c.id, c.asks) for c in knowledge.criteria.values())


def steps_of(result: Assessment) -> Titled:
    """The steps of the plan that the verdict asks for, by number and by id."""
    plan = result.plans[result.verdict.plan_scope]
    for number, step in enumerate(plan.steps, 1):
        yield str(number), result.knowledge.title(step.step)


def schemas() -> Titled:
    """The names of published schemas."""
    from assess.output.schemas import schema_names

    return ((name, "") for name in schema_names())


IDS = of_knowledge(ids_of)
SUBSYSTEMS = of_knowledge(lambda k: ((s.id, s.title) for s in k.subsystems.values()))
TOOLS = of_knowledge(lambda k: ((t.id, t.title) for t in k.tools.values()))
SCOPES = of_knowledge(lambda k: ((name, "") for name in k.trade.scope_ids()))
SCHEMAS = of_knowledge(lambda _: schemas())
SHEETS = of_job(lambda result: ((name, sheet.title) for name, sheet in result.sheets.items()))
STEPS = of_job(steps_of)


def plugins(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[CompletionItem]:
    """The names of installed plugins."""
    from assess.plugin.registry import find_plugins

    return proposed(((p.name, str(p.provider)) for p in find_plugins()), incomplete)
