"""What to look at next, what may come to light, and what is assumed, as text."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from assess.assessment import Assessment
from assess.decision.rules import percent
from assess.inspection.hidden_defects import LEAST_CHANCE, Hidden
from assess.inspection.value_of_information import Look
from assess.output.grades import grade_span, title
from assess.output.layout import amount, bullets, heading, paragraph, sections, table
from assess.planning.planner import SCOPE_TITLES

MOST_HIDDEN = 15
LEAST_TURN = 0.005
LEAST_SHIFT = 0.01
"""An answer that makes the verdict surer or less sure by less changes hardly anything."""


def looks_text(result: Assessment, looks: Sequence[Look], everything: bool = False) -> str:
    """What to look at next, in order, and what may come to light.

    Args:
        result: the assessment.
        looks: what to look at.
        everything: whether what no home allows is among them.
    """
    return sections(
        [
            title(result),
            f"{heading('So far', '-')}\n{bullets(so_far(result, everything))}",
            _looks(result, looks, everything),
            hidden_text(result, MOST_HIDDEN),
        ]
    )


def hidden_text(result: Assessment, most: int) -> str:
    """What may come to light, apart what only opening shows and what a home allows to see.

    Args:
        result: the assessment.
        most: how many of each to list.
    """
    scope = result.verdict.scope or "full"
    found = result.hidden(scope)
    parts = []
    for at_visit, where in ((False, "only in the workshop"), (True, "at a visit")):
        those = [line for line in found if line.at_visit == at_visit]
        if those:
            more = f"\n... and {len(those) - most} more" if len(those) > most else ""
            parts.append(f"To be seen {where}:\n{hidden_lines(result, those[:most])}{more}")
    if not parts:
        return ""
    head = heading(f"What may come to light ({SCOPE_TITLES[scope]})", "-")
    order = "Place by place, in order of what it adds on average, not of how likely it is."
    return "\n\n".join([f"{head}\n{order}", *parts])


def so_far(result: Assessment, everything: bool = False) -> list[str]:
    """Grade and verdict as they stand, with bounds and probabilities."""
    chances = result.chances()
    likeliest, probability = next(iter(chances.items()))
    others = ", ".join(f"{name} {percent(p)}" for name, p in list(chances.items())[1:])
    verdict = f"verdict: {likeliest} {percent(probability)}" + (f"; {others}" if others else "")
    return [f"grade {expected_span(result)}", verdict, settled_said(result, everything)]


def expected_span(result: Assessment) -> str:
    """The instrument's grade with bounds, and what to expect of it."""
    expected = result.expected.get("instrument")
    told = grade_span(result.graded.instrument)
    return told if expected is None or " to " not in told else f"{told}, likely {expected:.0f}"


def settled_said(result: Assessment, everything: bool) -> str:
    """Whether what is unseen could still change the verdict, and whether looking would tell."""
    doubt = percent(result.workshop.settled_doubt)
    left = percent(1 - next(iter(result.chances().values())))
    told = f"what is unseen changes the verdict in {left} of the ways it may turn out"
    if result.settled:
        return f"settled: {told}, and {doubt} is allowed"
    if result.guessed:
        return f"not settled: {result.guessed[0]}"
    worth = worth_while(result, everything=everything)
    told = f"not settled: {told}; {doubt} would be little enough"
    return f"{told}. {worth}" if worth else told


def worth_while(result: Assessment, *, everything: bool = False) -> str:
    """Why no more looking is worth while, or nothing while it is."""
    if result.settled:
        return "Settled: nothing left is likely to change the verdict."
    if result.guessed:
        return ""
    surer = result.information_value.expected_accuracy_gain(everything=everything)
    if surer > result.workshop.worth_looking:
        return ""
    where = "" if everything else " in a home"
    told = f"no more than {percent(surer)} surer" if surer >= 0.005 else "no surer"
    return f"All that is left to see{where} would make it {told}; the rest shows when it is opened."


def _looks(result: Assessment, looks: Sequence[Look], everything: bool) -> str:
    if not looks:
        where = "" if everything else " in a home; the rest needs the workshop"
        return f"Nothing is left to look at{where}."
    rows = [_look_row(result, number, look) for number, look in enumerate(looks, 1)]
    minutes = sum(look.minutes + sum(m for _, m in look.opens) for look in looks)
    shown = table(
        rows, ["No.", "Look at", "Min", "What it could change"], [3, 36, 4, 27], right=(0, 2)
    )
    total = f"{amount(minutes)} minutes for all of these, opening included."
    return f"{heading('Look next', '-')}\n{shown}\n{total}"


def _look_row(result: Assessment, number: int, look: Look) -> list[object]:
    criterion = result.knowledge.criteria[look.criterion]
    asks = criterion.asks
    for place, minutes in look.opens:
        opened = result.knowledge.places[place]
        took = f" ({amount(minutes)} min)" if minutes else ""
        asks += f"\n  open first: {opened.title}{took}"
    return [number, f"{asks}\n  {look.criterion}", amount(look.minutes), _could(result, look)]


def _could(result: Assessment, look: Look) -> str:
    if look.turns >= LEAST_TURN:
        told = [f"{c.answer} ({percent(c.chance)}): {c.verdict}" for c in look.possible_answers[:2]]
        return "\n".join(told)
    could = look.possible_answers[0] if look.possible_answers else None
    if could is None or could.chance < LEAST_CHANCE:
        return "hardly anything"
    if abs(could.probability - result.chances().get(could.verdict, 0.0)) < LEAST_SHIFT:
        return "hardly anything"
    sure = f"{could.verdict} {percent(could.probability)} sure"
    return f"{could.answer} ({percent(could.chance)}): {sure}"


def hidden_lines(result: Assessment, found: Iterable[Hidden]) -> str:
    """What may come to light, by the place where it is seen; the costliest place first."""
    by_place: dict[str | None, list[Hidden]] = {}
    for line in found:
        by_place.setdefault(line.opens[-1] if line.opens else None, []).append(line)
    worst = sorted(by_place.items(), key=lambda item: -sum(h.expected_cost for h in item[1]))
    rows: list[list[str]] = []
    for place, lines in worst:
        rows.append([_place_said(result, place, lines[0]), "", "", "", ""])
        rows += [_hidden_row(result, line) for line in lines]
    money = result.workshop.currency
    return table(
        rows,
        ["Place, and what it is", "Chance", "Adds h", f"Adds {money}", "To know"],
        [36, 8, 6, 9, 9],
        right=(1, 2, 3, 4),
    )


def _place_said(result: Assessment, place: str | None, line: Hidden) -> str:
    if place is None:
        return "Nothing to open:"
    title = result.knowledge.places[place].title
    return f"{title}:" if line.at_visit else f"{title}, {amount(line.opening_hours)} h to open:"


def _hidden_row(result: Assessment, line: Hidden) -> list[str]:
    known = f"{amount(line.minutes)} min" if line.at_visit else "open it"
    return [
        f"  {what_may_come(result, line)}",
        percent(line.chance),
        amount(line.hours),
        f"{line.cost:,.0f}",
        known,
    ]


def what_may_come(result: Assessment, line: Hidden) -> str:
    """The question that something hidden answers, or the kind of build that it may be."""
    if not line.feature:
        return result.knowledge.criteria[line.criterion].asks
    feature = result.knowledge.features[line.feature]
    if line.otherwise is True:
        return feature.asks
    told = feature.options.get(str(line.otherwise), "not so")
    return f"{feature.asks}: {told}"


def assumed_text(result: Assessment) -> str:
    """What is assumed of the unseen, and what the answers make of it."""
    care, believed = result.workshop.care, result.beliefs
    prior = [
        [
            state.name,
            percent(state.prior),
            percent(now),
            *(f"{100 * chance:.3g} %" for chance in state.classes),
        ]
        for state, now in zip(care.states, believed.whole, strict=True)
    ]
    table_of_states = table(
        prior,
        ["State of care", "Beforehand", "Now", "0", "1", "2", "3"],
        [16, 10, 9, 7, 7, 7, 7],
        right=(1, 2, 3, 4, 5, 6),
    )
    parts = [
        [component.title, *(percent(p) for p in believed.of_component(component.id))]
        for component in result.knowledge.components.values()
    ]
    table_of_parts = table(
        parts,
        ["Component", *believed.states],
        [40, *(12 for _ in believed.states)],
        right=tuple(range(1, 1 + len(believed.states))),
    )
    criteria = result.knowledge.criteria.values()
    seldom = [f"{c.asks} (to {c.seldom:g})" for c in criteria if c.seldom < 1]
    often = [f"{c.asks} ({c.often:g} times)" for c in criteria if c.often > 1]
    return sections(
        [
            title(result),
            f"{heading('What is assumed of the unseen', '-')}\n{paragraph(_assumptions(result))}",
            table_of_states,
            f"{heading('What the answers make of each component', '-')}\n{table_of_parts}",
            f"{heading('Findings taken to be rarer', '-')}\n{bullets(seldom)}" if seldom else "",
            f"{heading('Findings taken to be likelier', '-')}\n{bullets(often)}" if often else "",
        ]
    )


def _assumptions(result: Assessment) -> str:
    care = result.workshop.care
    return (
        "An instrument has been kept in one of the states of care below. A subsystem has fared "
        f"like the whole in {percent(care.state_persistence)} of cases and a component like its "
        f"subsystem in {percent(care.state_persistence)}, else like one of the other states. A "
        "state makes each condition class so likely; outcomes of one class are alike, but one that "
        "ends or "
        f"dissuades work is {care.rare:g} times as likely as another. Given the state of its "
        "component, one criterion says nothing of another, but for what outcomes are declared to "
        "hint at. Kinds of build that nobody has said are taken as usual in every range; where "
        "they may be otherwise, what may come to light says so. All of this is "
        "estimated from memory; the states stand in the workshop profile under [care], to be "
        "replaced by your own experience. Below, the chance of class 0 to 3 in each state."
    )
