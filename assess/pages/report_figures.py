"""The figures of the report: what an assessment knows, as pictures with their numbers."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable, Mapping, Sequence
from itertools import pairwise

from markupsafe import Markup

from assess.assessment import Assessment
from assess.base.wording import counted, percent
from assess.grading.grades import CLASS_WORDS, Grade
from assess.output.grades import grade_cells
from assess.output.layout import capital
from assess.output.step_words import telling_reason
from assess.pages.drawing import svg
from assess.pages.pictures import Picture
from assess.pages.point_plots import Line, Strip, xy_plot
from assess.pages.row_plots import Bar, Bounds, Edge, Node, arcs_plot, bounds_plot, lanes_plot
from assess.planning.calendar import Booking, Calendar
from assess.planning.critical_path import LongestChain
from assess.planning.plan import Plan, PlanStep
from assess.planning.timing import step_of
from assess.plugin.api import Figure

DAY_S = 86400.0
MOST_NODES = 40
"""How many steps are readable as one picture; of more, only those that set the length."""
ON_A_PAGE = 40
SHARES = tuple(n / 20 for n in range(1, 20))
TENTHS = (0.1, 0.5, 0.9)


def grades_picture(result: Assessment) -> Picture:
    """Grades of the whole, of subsystems and of components, with their bounds."""
    rows = [(f"Whole {result.trade.noun}", 0, result.graded.instrument, result.expected.whole)]
    for subsystem in result.graded.subsystems.values():
        expected = result.expected.subsystems.get(subsystem.id)
        rows.append((subsystem.title, 0, subsystem.grade, expected))
        for component, grade in subsystem.components.items():
            named = result.knowledge.components.get(component)
            name = named.title if named else component
            rows.append((name, 1, grade, result.expected.components.get(component)))
    shown = [
        (name, level, grade, likely) for name, level, grade, likely in rows if grade.weight > 0
    ]
    bounds = [_bounds(name, level, grade, likely) for name, level, grade, likely in shown]
    marks, height = bounds_plot(bounds, 0.0, 100.0, "grade, of 100")
    title = "Grades with their bounds"
    says = (
        f"Each box goes from the grade if all that is unseen is at its worst to the grade if it is "
        f"at its best; the diamond is what it likely is. {_classes_said()}"
    )
    return Picture(
        "grades",
        title,
        says,
        (svg("grades", title, says, height, marks),),
        ("Part", "Grade, of 100", "Likely", "Condition", "Seen"),
        tuple((name, *grade_cells(grade, likely)) for name, _, grade, likely in shown),
    )


def _classes_said() -> str:
    classes = ", ".join(f"{number} {word}" for number, word in enumerate(CLASS_WORDS))
    return f"Its shade is the worst condition class that remains possible: {classes}."


def _bounds(name: str, level: int, grade: Grade, likely: float | None) -> Bounds:
    known = likely if grade.upper - grade.lower > 1 else None
    return Bounds(name, grade.lower, grade.upper, known, grade.worst_class, level)


def lanes_picture(result: Assessment, plan: Plan, calendar: Calendar, dated: bool) -> Picture:
    """A calendar as lanes of stages over days, with drying and other waits.

    Args:
        result: the assessment that the plan belongs to.
        plan: the plan.
        calendar: its calendar.
        dated: whether days have dates, or are counted from the first.
    """
    steps = {step.step: step for step in plan.steps}
    first = dt.datetime.combine(calendar.start.date(), dt.time())

    def days(moment: dt.datetime) -> float:
        return (moment - first).total_seconds() / DAY_S

    tasks = result.planner.timing(plan).tasks
    bars = [
        Bar(
            _booked_name(steps[step_of(b.step)], b),
            steps[step_of(b.step)].stage,
            days(b.start),
            days(b.end),
            days(b.ready),
        )
        for b in calendar.bookings
    ]
    label = _dates_from(first) if dated else _days
    marks, height = lanes_plot(bars, label)
    title = "The work in time" if dated else "The work in time, in days"
    says = (
        "One lane for each stage of the plan. Dark: hands at work. Hatched: it dries, rests or "
        "waits, and other work goes on."
    )
    said = _day_of(first, dated)
    rows = tuple(
        (
            bar.name,
            bar.lane,
            tasks[booking.step].site,
            said(bar.begin),
            said(bar.end),
            said(bar.until) if bar.until > bar.end else "",
        )
        for bar, booking in zip(bars, calendar.bookings, strict=True)
    )
    return Picture(
        "lanes",
        title,
        says,
        (svg("lanes", title, says, height, marks),),
        ("Step", "Stage", "Where", "Begin", "End", "Wait until"),
        rows,
        prose=True,
    )


def _booked_name(step: PlanStep, booking: Booking) -> str:
    """A step by number and title; its second half says so."""
    again = "" if booking.step == step.step else "again: "
    return f"{step.number} {again}{step.title}"


def _dates_from(first: dt.datetime) -> Callable[[float], str]:
    def label(days: float) -> str:
        moment = first + dt.timedelta(days=days)
        return f"{moment.day} {moment:%b}"

    return label


def _days(days: float) -> str:
    """A day counted from the first, which is 1."""
    return f"day {int(days) + 1}"


def _day_of(first: dt.datetime, dated: bool) -> Callable[[float], str]:
    """How a table names a moment: by its date, or counted from the first day."""

    def said(days: float) -> str:
        moment = first + dt.timedelta(days=days)
        return f"{moment:%a} {moment.day} {moment:%b %Y}" if dated else _days(days)

    return said


def order_picture(result: Assessment, plan: Plan, chain: LongestChain) -> Picture | None:
    """The order of work by stage with its reasons; of a long plan what sets its length.

    A picture of one step or none says nothing, so there is none.
    """
    numbers = {step.step: step.number for step in plan.steps}
    if len(plan.steps) <= MOST_NODES:
        title = "What comes before what"
        says = (
            "An arc joins each step to what it needs; the dark one has its reason below the step."
        )
        shown = list(plan.steps)
        edges = _edges(shown, numbers)
        reasons = {s.step: _reason_said(s, numbers) for s in shown}
    else:
        title = "The steps that set the length"
        says = (
            f"Of {counted(len(plan.steps), 'step')}, these follow each other and take longest with "
            "drying and deliveries; the rest fits beside them. The reason stands below the step."
        )
        shown = [step for step in plan.steps if step.step in set(map(step_of, chain.steps))]
        edges = [Edge(a.number, b.number, True) for a, b in pairwise(shown)]
        reasons = {b.step: _between(result, a, b) for a, b in pairwise(shown)}
    if len(shown) < 2:
        return None
    nodes = [Node(s.number, s.title, s.stage, reasons.get(s.step, "")) for s in shown]
    return Picture(
        "order",
        title,
        says,
        _in_pages(nodes, edges, title, says),
        ("Step", "Stage", "Why there"),
        tuple((f"{n.number} {n.title}", n.layer, n.reason) for n in nodes),
        prose=True,
    )


def _in_pages(
    nodes: Sequence[Node], edges: Sequence[Edge], title: str, says: str
) -> tuple[Markup, ...]:
    """Drawings no longer than a page; each begins with the last row of the one before."""
    drawings = []
    starts = range(0, max(1, len(nodes) - 1), ON_A_PAGE - 1)
    for number, start in enumerate(starts, 1):
        marks, height = arcs_plot(nodes[start : start + ON_A_PAGE], edges)
        name = "order" if len(starts) == 1 else f"order-{number}"
        drawings.append(svg(name, title, says, height, marks))
    return tuple(drawings)


def _edges(steps: Sequence[PlanStep], numbers: Mapping[str, int]) -> list[Edge]:
    """The reasons of order that do not follow from others."""
    before: dict[int, set[int]] = {}
    edges = []
    for step in steps:
        direct = {numbers[reason.after] for reason in step.reasons}
        implied = {n for d in direct for n in before[d]}
        before[step.number] = direct | implied
        best = telling_reason(step, dict(numbers))
        main = numbers[best.after] if best else 0
        kept = (direct - implied) | ({main} if main else set())
        edges += [Edge(n, step.number, n == main) for n in sorted(kept)]
    return edges


def _reason_said(step: PlanStep, numbers: Mapping[str, int]) -> str:
    best = telling_reason(step, dict(numbers))
    return f"after {numbers[best.after]}: {best.reason.text}" if best else ""


def _between(result: Assessment, earlier: PlanStep, later: PlanStep) -> str:
    """Why the later of two steps of a chain waits for the earlier."""
    direct = next((r.reason.text for r in later.reasons if r.after == earlier.step), "")
    if direct:
        return f"after {earlier.number}: {direct}"
    return f"after {earlier.number}, through other steps"


def cost_picture(result: Assessment, plan: Plan) -> Picture | None:
    """How likely the cost of a plan stays under each amount, as seen and with the unseen."""
    shares = sorted({*SHARES, *TENTHS})
    seen, every = result.cost_distribution(plan.scope, shares)
    if not seen or max(every) < 1:
        return None
    percents = [100 * share for share in shares]
    lines = [
        Line("as seen", tuple(zip(seen, percents, strict=True))),
        Line("with the unseen", tuple(zip(every, percents, strict=True))),
    ]
    limit = result.job.owner.ceiling
    across = {"the owner's limit": limit} if limit and limit < 1.5 * max(every) else {}
    currency = result.workshop.currency
    marks, height = xy_plot(
        lines, f"cost, {currency}", "chance that it stays under this cost, %", across
    )
    title = "What it may cost"
    low, high = (every[shares.index(share)] for share in (0.1, 0.9))
    says = (
        f"In 4 jobs of 5 the cost ends between {currency} {low:,.0f} and {high:,.0f}, allowing "
        "for what was not seen."
    )
    return Picture(
        "cost",
        title,
        says,
        (svg("cost", title, says, height, marks),),
        ("Chance", f"As seen, {currency}", f"With the unseen, {currency}"),
        tuple(
            (percent(share), f"{a:,.0f}", f"{b:,.0f}")
            for share, a, b in zip(shares, seen, every, strict=True)
        ),
    )


def plugin_picture(name: str, figure: Figure) -> Picture:
    """A figure of a plugin.

    Args:
        name: its full id.
        figure: its data.
    """
    lines = [Line(s.name, s.points, figure.joined, s.spreads, s.behind) for s in figure.series]
    words = list(dict.fromkeys(flag.says for flag in figure.flags))
    strips = [
        Strip(f"{flag.series}: {flag.says}", flag.at, words.index(flag.says))
        for flag in figure.flags
    ]
    ticks = {tick: figure.x_names.get(tick, f"{tick:g}") for tick in figure.x_ticks}
    marks, height = xy_plot(lines, figure.x, figure.y, None, strips, ticks)
    says = figure.says or f"{capital(figure.y)} against {figure.x}."
    identifier = name.replace(".", "-")
    return Picture(
        identifier,
        figure.title,
        says,
        (svg(identifier, figure.title, says, height, marks),),
        (capital(figure.x), *(s.name for s in figure.series)),
        _points(figure),
        capital(figure.y),
        figure.notes,
    )


def _points(figure: Figure) -> tuple[tuple[str, ...], ...]:
    """Every point and flag of a figure, by its place along the axis, which may have a name."""
    series = figure.series
    every = [point for line in series for point in line.points]
    flagged = [x for flag in figure.flags for x in flag.at]
    along = _decimals([*(x for x, _ in every), *flagged])
    up = _decimals([y for _, y in every])
    found: dict[float, list[list[str]]] = {}
    for number, line in enumerate(series):
        spreads = line.spreads or (0.0,) * len(line.points)
        for (x, y), spread in zip(line.points, spreads, strict=True):
            said = f"{round(y, up) + 0.0:.{up}f}"  # + 0.0 leaves no minus before zero
            said += f" \u00b1 {spread:.{up}f}" if spread > 0 else ""
            found.setdefault(x, [[] for _ in series])[number].append(said)
    names = [line.name for line in series]
    for flag in figure.flags:
        for x in flag.at:
            found.setdefault(x, [[] for _ in series])[names.index(flag.series)].append(flag.says)
    return tuple(
        (figure.x_names.get(x) or f"{x:.{along}f}", *("; ".join(cell) for cell in cells))
        for x, cells in sorted(found.items())
    )


def _decimals(values: Sequence[float]) -> int:
    """With how many decimals values are told apart: a hundredth of their range, whole if all are.

    >>> _decimals([20, 90]), _decimals([0.1, 0.9]), _decimals([1.5, 33.0])
    (0, 3, 1)
    """
    if all(float(value).is_integer() for value in values):
        return 0
    return max(0, 2 - math.floor(math.log10(max(max(values) - min(values), 1e-3))))
