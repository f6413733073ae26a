"""Steps and benches of a plan by what a person calls them."""

from __future__ import annotations

import re
from collections.abc import Iterable

from assess.base.errors import UserError, did_you_mean
from assess.base.list_positions import position_typed
from assess.knowledge.knowledge_base import Knowledge
from assess.planning.plan import Plan, PlanStep

MOST_NAMED = 6
"""How many steps that fit are named in a message."""


def find_step(plan: Plan, words: str) -> PlanStep:
    """A step by its number, its id, its title or some words of its title.

    Raises:
        UserError: no step of the plan is called so, or several are.
    """
    said = " ".join(words.split()).casefold()
    if (number := position_typed(said)) is not None:
        return _numbered(plan, number, said)
    for fitting in (
        [s for s in plan.steps if said == s.step.casefold()],
        [s for s in plan.steps if said == _short(s.step)],
        [s for s in plan.steps if said == s.title.casefold()],
        [s for s in plan.steps if said and said in s.title.casefold()],
    ):
        if len(fitting) == 1:
            return fitting[0]
        if fitting:
            raise UserError(f"{words!r} fits several steps: {_listed(fitting)}; use the number")
    names = [n for s in plan.steps for n in (s.title, s.step, _short(s.step), *s.title.split())]
    raise UserError(f"no step {words!r} in this plan; {did_you_mean(words, set(names))}")


def steps_meant(plan: Plan, words: Iterable[str], knowledge: Knowledge) -> list[str]:
    """Ids of the steps that a person names: numbers and ranges of them, or one name in words.

    Args:
        plan: whose numbers are meant.
        words: ``["3", "5-8"]``, or the words of one id or title.
        knowledge: of a full id it is enough that the step is known at all.

    Raises:
        UserError: no step is called so, or several are.
    """
    given = [word for text in words for word in text.split()]
    if all(re.fullmatch(r"\d+(-\d+)?", word) for word in given):
        numbers = [n for word in given for n in _range(plan, word)]
        return list(dict.fromkeys(plan.steps[n - 1].step for n in numbers))
    name = " ".join(given)
    if name in set(knowledge.steps):
        return [name]
    return [find_step(plan, name).step]


def _range(plan: Plan, word: str) -> range:
    """The numbers of "5-8" or "5", both ends of which are steps of the plan.

    Raises:
        UserError: it goes down, or ends beyond the plan.
    """
    first, _, last = word.partition("-")
    ends = [position_typed(end) for end in (first, last or first)]
    numbers = [_numbered(plan, end, word).number for end in ends]
    if numbers[0] > numbers[-1]:
        raise UserError(f"{word}: the smaller number comes first")
    return range(numbers[0], numbers[-1] + 1)


def find_stage(plan: Plan, words: str) -> str:
    """The title of a stage of a plan, by that title or some words of it.

    Raises:
        UserError: no stage of the plan is called so, or several are.
    """
    titles = list(dict.fromkeys(s.stage for s in plan.steps))
    said = " ".join(words.split()).casefold()
    exact = [t for t in titles if t.casefold() == said]
    fitting = exact or [t for t in titles if said and said in t.casefold()]
    if len(fitting) == 1:
        return fitting[0]
    if fitting:
        listed = ", ".join(f'"{t}"' for t in fitting)
        raise UserError(f"{words!r} fits several benches: {listed}")
    by_case = {t.casefold(): t for t in titles}
    hint = did_you_mean(said, by_case)
    for lower, title in by_case.items():
        hint = hint.replace(f'"{lower}"', f'"{title}"')
    raise UserError(f"no bench {words!r} in this plan; {hint}")


def _numbered(plan: Plan, number: int | None, said: str) -> PlanStep:
    """A step by its number; None is one that no plan has."""
    if not plan.steps:
        raise UserError(f"no step {said} in this plan; it has none")
    if number is None or not 1 <= number <= len(plan.steps):
        raise UserError(f"no step {said} in this plan; it has steps 1 to {len(plan.steps)}")
    return plan.steps[number - 1]


def _short(step: str) -> str:
    """A step without its subsystem.

    >>> _short("open wheels.axle"), _short("wheels.grease_hub")
    ('open axle', 'grease_hub')
    """
    kind, space, target = step.rpartition(" ")
    return f"{kind}{space}{target.rpartition('.')[2]}".casefold()


def _listed(steps: list[PlanStep]) -> str:
    named = [f"{s.number} {s.title}" for s in steps[:MOST_NAMED]]
    more = len(steps) - len(named)
    return "; ".join(named) + (f"; and {more} more" if more else "")
