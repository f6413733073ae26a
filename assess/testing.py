"""What a plugin's own tests need: a job factory, and assertions that say what is wrong.

Example::

    from assess import testing

    def test_my_knowledge_is_sound():
        testing.assert_sound("assess_candle_arms")

    def test_a_loose_arm_is_screwed_down():
        result = testing.assessed("assess_candle_arms", {"candle_arms.arms": "loose"})
        testing.assert_in_order(result, "candle_arms.fill_holes", "candle_arms.screw_arms")
"""

from __future__ import annotations

from collections.abc import Mapping

from assess.assessment import Assessment, assess
from assess.job.job_file import Answer, Job
from assess.knowledge.knowledge_base import Knowledge, broken_references, merged, qualified
from assess.knowledge.lint import doubts
from assess.knowledge.model_base import Scope
from assess.knowledge.toml_loader import read_declaration
from assess.planning.closure import precedence


def knowledge_of(*packages: str) -> Knowledge:
    """The joint knowledge of plugin packages, without the installed ones.

    Raises:
        DeclarationError: a package declares something impossible.
    """
    return merged(qualified(read_declaration(package)) for package in packages)


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
    package: str,
    answers: Mapping[str, str | float | int] | None = None,
    features: Mapping[str, bool | str] | None = None,
    facts: Mapping[str, float | int | str] | None = None,
) -> Assessment:
    """The assessment of a job by one plugin package alone."""
    return assess(job_with(answers, features, facts), knowledge=knowledge_of(package))


def assert_sound(*packages: str) -> None:
    """Fail with every doubt about the declared knowledge: see :mod:`assess.knowledge.lint`."""
    broken = [b for p in packages for b in broken_references(qualified(read_declaration(p)))]
    assert not broken, "\n".join(broken)
    knowledge = knowledge_of(*packages)
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
