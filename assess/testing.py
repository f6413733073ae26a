"""What a plugin's own tests need: a job factory, and assertions that say what is wrong.

Plugins are found by importing their packages and run through the same hooks as installed
ones, so what holds in a test holds from the command.

Example::

    from assess import testing

    def test_my_knowledge_is_sound():
        testing.assert_sound("assess_candle_arms")

    def test_a_loose_arm_is_screwed_down():
        result = testing.assessed("assess_candle_arms", {"candle_arms.arms": "loose"})
        testing.assert_in_order(result, "candle_arms.fill_holes", "candle_arms.screw_arms")
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from importlib import import_module

from assess.assessment import Assessment, assess
from assess.base.errors import DeclarationError
from assess.job.answers import read_answers
from assess.job.computed_values import inspection_of
from assess.job.configuration import configuration_of
from assess.job.csv_surveys import SurveyTable
from assess.job.job_file import Answer, Job
from assess.knowledge.knowledge_base import Knowledge
from assess.knowledge.lint import doubts
from assess.knowledge.model_base import Scope
from assess.knowledge.plugin_faults import Provider
from assess.knowledge.precedence_graph import precedence
from assess.plugin.api import Inspection, Row
from assess.plugin.isolation import HookError
from assess.plugin.registry import SoundDeclaration, declared_by, find_plugins, gather, joined

Packages = str | Sequence[str]
"""One plugin package by its importable name, or several."""


def knowledge_of(*packages: str, beside_installed: bool = False) -> Knowledge:
    """The joint knowledge of plugin packages.

    Args:
        packages: importable names.
        beside_installed: together with all installed plugins, instead of alone.

    Raises:
        DeclarationError: a package declares something impossible, or clashes with another.
    """
    own = [_sound(package) for package in packages]
    if beside_installed:
        others = [plugin for plugin in find_plugins() if plugin.entry.value not in packages]
        knowledge = gather(others, own)
    else:
        knowledge = joined(own)
    named = [f for f in knowledge.faults if f.plugin in packages]
    if named:
        raise DeclarationError("\n".join(line for fault in named for line in fault.lines()))
    return knowledge


def _sound(package: str) -> SoundDeclaration:
    provider = Provider(package)
    try:
        return declared_by(import_module(package), provider)
    except HookError as error:
        raise DeclarationError(str(error.fault(provider))) from error


def job_with(
    answers: Mapping[str, str | float | int] | None = None,
    features: Mapping[str, bool | str] | None = None,
    facts: Mapping[str, float | int | str] | None = None,
) -> Job:
    """A job with these answers (full criterion id to answer), features and facts."""
    tables: dict[str, dict[str, Answer]] = {}
    for criterion, answer in (answers or {}).items():
        subsystem, _, name = criterion.partition(".")
        tables.setdefault(subsystem, {})[name] = Answer(answer=answer)
    return Job.model_validate(
        {
            "format": 1,
            "answers": tables,
            "instrument": {"features": dict(features or {}), "facts": dict(facts or {})},
        }
    )


def assessed(
    packages: Packages,
    answers: Mapping[str, str | float | int] | None = None,
    features: Mapping[str, bool | str] | None = None,
    facts: Mapping[str, float | int | str] | None = None,
    *,
    beside_installed: bool = False,
) -> Assessment:
    """The assessment of a job by plugin packages, hooks and all.

    Raises:
        DeclarationError: a package declares something impossible.
        AssertionError: a hook failed, or gave back something unusable.
    """
    names = (packages,) if isinstance(packages, str) else tuple(packages)
    knowledge = knowledge_of(*names, beside_installed=beside_installed)
    result = assess(job_with(answers, features, facts), knowledge=knowledge)
    faults = [line for fault in result.measured.faults for line in fault.lines()]
    assert not faults, "\n".join(faults)
    return result


def inspection_with(
    packages: Packages,
    answers: Mapping[str, str | float | int] | None = None,
    features: Mapping[str, bool | str] | None = None,
    facts: Mapping[str, float | int | str] | None = None,
    surveys: Mapping[str, Sequence[Row]] | None = None,
) -> Inspection:
    """What a hook is given for such a job, to call it in a test.

    Args:
        packages: the plugin packages that declare what is given.
        answers: full criterion id to answer.
        features: feature id to what it is.
        facts: fact id to number.
        surveys: rows by full survey id, each a mapping of column to value.
    """
    knowledge = knowledge_of(*((packages,) if isinstance(packages, str) else packages))
    job = job_with(answers, features, facts)
    read = read_answers(job, knowledge)
    rows = {name: SurveyTable(tuple(table), ()) for name, table in (surveys or {}).items()}
    return inspection_of(read, knowledge, configuration_of(job, knowledge, read), rows)


def assert_sound(*packages: str, beside_installed: bool = False) -> None:
    """Fail with every doubt about the declared knowledge: see :mod:`assess.knowledge.lint`."""
    knowledge = knowledge_of(*packages, beside_installed=beside_installed)
    precedence(knowledge)
    found = doubts(knowledge)
    assert not found, "\n".join(found)


def assert_in_order(result: Assessment, *steps: str, scope: Scope = "full") -> None:
    """Fail unless all steps are in the plan of a scope, in this order."""
    numbers = {s.step: s.number for s in result.plans[scope].steps}
    missing = [s for s in steps if s not in numbers]
    assert not missing, f"not in the plan: {', '.join(missing)}; it has: {', '.join(numbers)}"
    found = sorted(steps, key=numbers.__getitem__)
    assert found == list(steps), f"the order is: {', '.join(found)}"
