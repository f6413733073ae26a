"""What to look at next, which faults may still be hidden, and what is assumed, as text."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from assess.assessment import Assessment
from assess.base.wording import percent
from assess.inspection.complaints import Explained, PossibleCause
from assess.inspection.hidden_defects import LEAST_CHANCE, Hidden
from assess.inspection.value_of_information import Look
from assess.output.grades import expected_span, title
from assess.output.layout import amount, bullets, heading, paragraph, section, sections, table

MOST_HIDDEN = 10
"""How many hidden faults of each kind are listed unless something else is asked for."""
MOST_CAUSES = 4
"""How many likely causes of a complaint are listed."""
LEAST_TURN = 0.005
LEAST_SHIFT = 0.01
"""An answer that makes the verdict surer or less sure by less than this changes almost nothing."""


def looks_text(
    result: Assessment,
    looks: Sequence[Look],
    everything: bool = False,
    ids: bool = False,
    most: int = MOST_HIDDEN,
) -> str:
    """What to look at next, in order, how things stand, and which faults may still be hidden.

    Args:
        result: the assessment.
        looks: what to look at.
        everything: whether what only the workshop shows is among them.
        ids: show the ids of criteria.
        most: how many hidden faults to list of each kind.
    """
    return sections(
        [
            heading(title(result)),
            complaints_text(result),
            _looks(result, looks, everything, ids),
            section("So far", bullets(so_far(result, everything))),
            hidden_text(result, most),
        ]
    )


def complaints_text(result: Assessment) -> str:
    """What is complained of, what explains it or may cause it, and the next look for each."""
    parts = [_complaint_text(result, explained) for explained in result.complaints]
    return section("Complaints", "\n\n".join(parts)) if parts else ""


def complaint_said(result: Assessment, explained: Explained) -> tuple[str, list[str]]:
    """What is complained of; and what explains it, or may cause it and where to look first."""
    criteria = result.knowledge.criteria
    words = f' ("{explained.complaint.words}")' if explained.complaint.words else ""
    head = f"{explained.symptom.asks}{words}"
    found = [f"explained by: {_cause_said(result, cause)}" for cause in explained.found]
    listed = [c for c in explained.causes if not c.seen][:MOST_CAUSES]
    likely = [f"{percent(c.responsible)} {criteria[c.criterion].asks}" for c in listed]
    if found:
        return head, found
    lines = ["nothing found so far explains it"]
    if likely:
        lines.append(f"likely causes: {'; '.join(likely)}")
    if explained.tests:
        lines.append(f"look first at: {criteria[explained.tests[0]].asks}")
    return head, lines


def _complaint_text(result: Assessment, explained: Explained) -> str:
    head, lines = complaint_said(result, explained)
    return f"{paragraph(head)}\n{bullets(lines)}"


def _cause_said(result: Assessment, cause: PossibleCause) -> str:
    judgement = result.graded.judgements[cause.criterion]
    return f"{judgement.criterion.asks} ({judgement.given})"


def hidden_text(result: Assessment, most: int) -> str:
    """Faults that may still be hidden: apart what only opening shows and what a home shows.

    Args:
        result: the assessment.
        most: how many of each to list.
    """
    scope = result.verdict.plan_scope
    found = result.hidden(scope)
    parts = []
    for at_visit, where in ((False, "in the workshop only"), (True, "at a visit")):
        those = [line for line in found if line.at_visit == at_visit]
        if those:
            more = f"\n... and {len(those) - most} more" if len(those) > most else ""
            parts.append(f"To be seen {where}:\n{hidden_lines(result, those[:most])}{more}")
    if not parts:
        return ""
    head = f"Faults that may still be hidden ({result.trade.scope_title(scope)})"
    return section(head, "By place; what matters most here first.\n", "\n\n".join(parts))


def so_far(result: Assessment, everything: bool = False) -> list[str]:
    """Grade and verdict as they stand, with bounds and probabilities."""
    listed = ", ".join(
        f"{result.trade.verdict(n)} {percent(p)}" for n, p in result.chances().items()
    )
    return [
        f"Grade {expected_span(result)}.",
        f"Verdict: {listed}.",
        settled_said(result, everything),
    ]


def settled_said(result: Assessment, everything: bool) -> str:
    """Whether what is unseen could still change the verdict, and whether looking would help."""
    if result.guessed:
        return f"Not settled: {result.guessed[0]}."
    risk = (
        f"{percent(result.doubt)} risk that unseen parts change the verdict "
        f"(limit {percent(result.workshop.settled_doubt)})"
    )
    if result.settled:
        return f"Settled: {risk}."
    return " ".join(filter(None, (f"Not settled: {risk}.", looking_helps(result, everything))))


def looking_helps(result: Assessment, everything: bool = False) -> str:
    """Why more looking will not help; nothing while it will, or when the verdict is settled."""
    if result.settled or result.guessed:
        return ""
    gain = result.information_value.expected_accuracy_gain(everything=everything)
    if gain > result.workshop.worth_looking:
        return ""
    where = "" if everything else " in the home"
    little = "hardly help" if gain >= LEAST_TURN else "not help"
    return f"More looking{where} will {little}; the rest needs opening."


def _looks(result: Assessment, looks: Sequence[Look], everything: bool, ids: bool) -> str:
    if not looks:
        where = "" if everything else " in a home; the rest needs the workshop"
        return f"Nothing is left to look at{where}."
    rows = [_look_row(result, number, look, ids) for number, look in enumerate(looks, 1)]
    minutes = sum(look.minutes + sum(m for _, m in look.opens) for look in looks)
    headers = ["No.", "Look at", "Min", "What it could change"]
    shown = table(rows, headers, [3, 36, 4, 27], right=(0, 2))
    return section("Look next", shown, f"{amount(minutes)} minutes for all of these, with opening.")


def _look_row(result: Assessment, number: int, look: Look, ids: bool) -> list[object]:
    criterion = result.knowledge.criteria[look.criterion]
    asks = criterion.asks
    for place, minutes in look.opens:
        opened = result.knowledge.places[place]
        took = f" ({amount(minutes)} min)" if minutes else ""
        asks += f"\n  open first: {opened.title}{took}"
    if ids:
        asks += f"\n  {look.criterion}"
    return [number, asks, amount(look.minutes), _possible(result, look)]


def _possible(result: Assessment, look: Look) -> str:
    words = result.trade.verdict
    if look.turns >= LEAST_TURN:
        listed = look.possible_answers[:2]
        return "\n".join(
            f"if {c.answer} ({percent(c.chance)} likely): {words(c.verdict)}" for c in listed
        )
    if look.symptom:
        return f"test of: {result.knowledge.symptoms[look.symptom].asks}"
    best = look.possible_answers[0] if look.possible_answers else None
    if best is None or best.chance < LEAST_CHANCE:
        return "almost nothing"
    if abs(best.probability - result.chances().get(best.verdict, 0.0)) < LEAST_SHIFT:
        return "almost nothing"
    then = f"{words(best.verdict)}, {percent(best.probability)}"
    return f"if {best.answer} ({percent(best.chance)} likely): {then}"


def hidden_lines(result: Assessment, found: Iterable[Hidden]) -> str:
    """Faults that may be hidden, by the place where they are seen; the costliest place first."""
    by_place: dict[str | None, list[Hidden]] = {}
    for line in found:
        by_place.setdefault(line.opens[-1] if line.opens else None, []).append(line)
    worst = sorted(by_place.items(), key=lambda item: -sum(h.expected_cost for h in item[1]))
    rows: list[list[str]] = []
    for place, lines in worst:
        rows.append([_place_said(result, place, lines[0]), "", "", "", ""])
        rows += [_hidden_row(result, line) for line in lines]
    headers = [
        "Place and fault",
        "Chance",
        "Extra h",
        f"Extra {result.workshop.currency}",
        "To check",
    ]
    return table(rows, headers, [36, 8, 7, 9, 9], right=(1, 2, 3, 4))


def _place_said(result: Assessment, place: str | None, line: Hidden) -> str:
    if place is None:
        return "Visible without opening:"
    name = result.knowledge.places[place].title
    return f"{name}:" if line.at_visit else f"{name}, {amount(line.opening_hours)} h to open:"


def _hidden_row(result: Assessment, line: Hidden) -> list[str]:
    return [
        f"  {hidden_name(result, line)}",
        percent(line.chance),
        amount(line.hours),
        f"{line.cost:,.0f}",
        f"{amount(line.minutes)} min" if line.at_visit else "open",
    ]


def hidden_name(result: Assessment, line: Hidden) -> str:
    """The question that something hidden answers, or the kind of build that it may be."""
    if not line.feature:
        return result.knowledge.criteria[line.criterion].asks
    feature = result.knowledge.features[line.feature]
    if line.otherwise is True:
        return feature.asks
    said = feature.options.get(str(line.otherwise), "no").partition(":")[0]
    return f"{feature.asks}: {said}"


def assumed_text(result: Assessment) -> str:
    """What is assumed of the unseen, and what the answers make of it."""
    care, believed = result.workshop.care, result.beliefs
    states = [
        [
            state.name,
            percent(state.prior),
            percent(now),
            *(f"{100 * chance:.3g} %" for chance in state.classes),
        ]
        for state, now in zip(care.states, believed.whole, strict=True)
    ]
    table_of_states = table(
        states,
        ["State of care", "Before", "Now", "Class 0", "1", "2", "3"],
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
    rarer = [f"{c.asks}: {c.seldom:g} times as often" for c in criteria if c.seldom < 1]
    oftener = [f"{c.asks}: {c.often:g} times as often" for c in criteria if c.often > 1]
    return sections(
        [
            heading(title(result)),
            section("What is assumed about unseen parts", bullets(_assumptions(result))),
            table_of_states,
            section("Each component, given the answers so far", table_of_parts),
            section("Findings taken to be rarer than others", bullets(rarer)) if rarer else "",
            section("Findings taken to be likelier", bullets(oftener)) if oftener else "",
        ]
    )


def _assumptions(result: Assessment) -> list[str]:
    care = result.workshop.care
    same = percent(care.state_persistence)
    return [
        f"The {result.trade.noun} is in one of the states of care below. Each state gives "
        "condition classes 0 to 3 the chances in the table.",
        f"A subsystem is in the same state as the whole with probability {same}, and so is a "
        "component as its subsystem.",
        "Given the state of its component, criteria are independent, except where a finding is "
        "declared to be a cause or a proof of another. Outcomes of one class are equally likely; "
        f"one that ends the work or advises against it is {care.rare:g} times as likely.",
        "Kinds of build that are not stated are taken as usual; where that may be wrong, it is "
        "on the list of what may be hidden.",
        "All figures are estimates from memory. Replace them with your own experience under "
        "[care] in the workshop profile.",
    ]
