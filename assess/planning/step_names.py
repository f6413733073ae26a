"""Steps and benches of a plan by what a person calls them."""

from __future__ import annotations

import re
from collections.abc import Iterable

from assess.base.errors import UserError, did_you_mean
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
    if said.isdigit():
        return _numbered(plan, int(said))
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
        numbers = [n for word in given for n in _range(word)]
        return list(dict.fromkeys(_numbered(plan, n).step for n in numbers))
    name = " ".join(given)
    if name in set(knowledge.steps):
        return [name]
    return [find_step(plan, name).step]


def _range(word: str) -> range:
    first, _, last = word.partition("-")
    return range(int(first), int(last or first) + 1)


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


def _numbered(plan: Plan, number: int) -> PlanStep:
    if not plan.steps:
        raise UserError(f"no step {number} in this plan; it has none")
    if not 1 <= number <= len(plan.steps):
        raise UserError(f"no step {number} in this plan; it has steps 1 to {len(plan.steps)}")
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
