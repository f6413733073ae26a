"""Each mark of a figure stands where its value says, read off the axes that are drawn."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable
from functools import cache
from xml.etree import ElementTree

import pytest
from assess_action.keysurvey import key_number
from hypothesis import given
from hypothesis import strategies as st
from seen import FIXTURES, assessed

from assess import Figure, Flag, Series
from assess.pages.drawing import nice_ticks, svg
from assess.pages.pictures import Picture
from assess.pages.point_plots import Line, xy_plot
from assess.pages.report_figures import (
    cost_picture,
    grades_picture,
    lanes_picture,
    order_picture,
    plugin_picture,
)
from assess.pages.row_plots import Bounds, Edge, Node, arcs_plot, bounds_plot
from assess.planning.timing import step_of

SVG = ElementTree.Element
NEAR = 0.01
"""Places in a drawing are rounded to a hundredth of its unit."""


def drawn(text: object) -> SVG:
    return ElementTree.fromstring(str(text))


def of_class(root: SVG, name: str) -> list[SVG]:
    return [e for e in root.iter() if name in e.get("class", "").split()]


def number(text: str | None) -> float:
    """The value of a label; that of a note is the number of its key."""
    label = text or ""
    if re.fullmatch(r"[A-G][#b]?-?\d", label):
        return float(key_number(label))
    return float(label.replace(",", "").replace("day ", ""))


def scale(root: SVG, axis: str) -> Callable[[float], float]:
    """A place along an axis to the value there, by the first and the last tick that are drawn."""
    place = "x" if axis == "x" else "y"
    ticks = [
        (float(t.get(place, "")), number(t.get("data-value") or t.text))
        for t in of_class(root, f"tick-{axis}")
    ]
    lift = 0.0 if axis == "x" else 4.0  # the foot of a label lies below the line that it names
    (a, low), (b, high) = ticks[0], ticks[-1]
    return lambda at: low + (at + lift - a) / (b - a) * (high - low)


def middle(mark: SVG) -> tuple[float, float]:
    """The point that a mark stands for."""
    kind = mark.tag
    if kind == "circle":
        return float(mark.get("cx", "")), float(mark.get("cy", ""))
    if kind == "rect":
        x, y, width, height = (float(mark.get(k, "")) for k in ("x", "y", "width", "height"))
        return x + width / 2, y + height / 2
    corners = [tuple(map(float, c.split(","))) for c in mark.get("points", "").split()]
    return corners[0][0], corners[0][1] + 3.2


def points(root: SVG) -> dict[str, list[tuple[float, float]]]:
    """Every point of a plot as its values, by series."""
    to_x, to_y = scale(root, "x"), scale(root, "y")
    found: dict[str, list[tuple[float, float]]] = {}
    for mark in of_class(root, "point"):
        if name := mark.get("data-series"):
            x, y = middle(mark)
            found.setdefault(name, []).append((to_x(x), to_y(y)))
    for line in of_class(root, "behind"):
        if name := line.get("data-series"):
            corners = [tuple(map(float, c.split(","))) for c in line.get("points", "").split()]
            found[name] = [(to_x(x), to_y(y)) for x, y in corners]
    return found


def pictures(stem: str) -> list[Picture]:
    result = assessed(stem)
    return [plugin_picture(name, figure) for name, figure in result.figures.items()]


@cache
def in_time(stem: str):
    result = assessed(stem)
    plan = result.plans[result.verdict.plan_scope]
    return result, plan, result.planner.calendar(plan, dt.date(2024, 1, 1))


WITH_PLAN = [stem for stem in FIXTURES if stem not in ("sound_organ",)]


@pytest.mark.parametrize("stem", FIXTURES)
def test_each_box_goes_from_the_lower_to_the_upper_bound(stem: str) -> None:
    graded = assessed(stem).graded
    grades = [graded.instrument]
    for subsystem in graded.subsystems.values():
        grades += [subsystem.grade, *subsystem.components.values()]
    grades = [grade for grade in grades if grade.weight > 0]
    root = drawn(grades_picture(assessed(stem)).drawings[0])
    to_grade = scale(root, "x")
    boxes = of_class(root, "bound")
    assert len(boxes) == len(grades)
    for box, grade in zip(boxes, grades, strict=True):
        start = float(box.get("x", ""))
        end = start + float(box.get("width", ""))
        assert to_grade(start) == pytest.approx(grade.lower, abs=NEAR)
        assert to_grade(end) == pytest.approx(grade.upper, abs=NEAR)
        assert box.get("fill") == f"url(#class-{grade.worst_class})"


def test_the_diamond_stands_at_what_is_likely() -> None:
    rows = [Bounds("a", 10, 90, 42.5), Bounds("b", 5, 5)]
    marks, height = bounds_plot(rows, 0, 100, "grade")
    root = drawn(svg("s", "t", "d", height, marks))
    (likely,) = of_class(root, "likely")
    assert scale(root, "x")(middle(likely)[0]) == pytest.approx(42.5, abs=NEAR)


@pytest.mark.parametrize("stem", WITH_PLAN)
def test_bars_lie_at_the_times_of_the_calendar_in_the_lane_of_their_stage(stem: str) -> None:
    result, plan, calendar = in_time(stem)
    stages = {step.step: step.stage for step in plan.steps}
    root = drawn(lanes_picture(result, plan, calendar, dated=False).drawings[0])
    to_day = scale(root, "x")
    first = dt.datetime(2024, 1, 1)
    bars = of_class(root, "works")
    assert len(bars) == len(calendar.bookings)
    lanes: dict[str, float] = {}
    waits = iter(of_class(root, "waits"))
    days = 86400.0
    near = NEAR * (calendar.finish - first).total_seconds() / days / 100
    for bar, booking in zip(bars, calendar.bookings, strict=True):
        start = float(bar.get("x", ""))
        end = start + float(bar.get("width", ""))
        begun, ended, ready = (
            (moment - first).total_seconds() / days
            for moment in (booking.start, booking.end, booking.ready)
        )
        assert to_day(start) == pytest.approx(begun + 1, abs=near)
        assert to_day(end) == pytest.approx(ended + 1, abs=near)
        assert lanes.setdefault(stages[step_of(booking.step)], float(bar.get("y", ""))) == float(
            bar.get("y", "")
        )
        if booking.ready > booking.end:
            wait = next(waits)
            until = float(wait.get("x", "")) + float(wait.get("width", ""))
            assert to_day(until) == pytest.approx(ready + 1, abs=near)
    assert next(waits, None) is None
    assert len(set(lanes.values())) == len({stages[step.step] for step in plan.left})


@pytest.mark.parametrize("stem", WITH_PLAN)
def test_arcs_join_the_steps_that_they_name_and_run_forward(stem: str) -> None:
    result, plan, calendar = in_time(stem)
    picture = order_picture(result, plan, result.planner.longest_chain(plan, calendar))
    assert picture is not None
    for drawing in picture.drawings:
        root = drawn(drawing)
        nodes = {n.get("data-number"): float(n.get("cy", "")) + 1 for n in of_class(root, "node")}
        assert 2 <= len(nodes) <= 40
        for arc in of_class(root, "edge"):
            path = arc.get("d", "").split()
            before, after = arc.get("data-from"), arc.get("data-to")
            assert int(before or 0) < int(after or 0)
            assert float(path[2]) == pytest.approx(nodes[before], abs=NEAR)
            assert float(path[-1]) == pytest.approx(nodes[after], abs=NEAR)


def test_of_a_short_plan_every_direct_reason_is_kept_or_follows_from_others() -> None:
    result, plan, calendar = in_time("one_strap")
    picture = order_picture(result, plan, result.planner.longest_chain(plan, calendar))
    assert picture is not None
    root = drawn(picture.drawings[0])
    edges = [
        (int(e.get("data-from", "")), int(e.get("data-to", ""))) for e in of_class(root, "edge")
    ]
    reach: dict[int, set[int]] = {step.number: set() for step in plan.steps}
    for before, after in sorted(edges, key=lambda e: e[1]):
        reach[after] |= {before} | reach[before]
    numbers = {step.step: step.number for step in plan.steps}
    for step in plan.steps:
        assert {numbers[r.after] for r in step.reasons} <= reach[step.number]


def test_of_a_long_plan_the_steps_that_set_its_length_are_shown() -> None:
    result, plan, calendar = in_time("neglected")
    chain = result.planner.longest_chain(plan, calendar)
    picture = order_picture(result, plan, chain)
    assert picture is not None
    shown = {row[0].partition(" ")[0] for row in picture.rows}
    assert shown == {str(s.number) for s in plan.steps if s.step in set(map(step_of, chain.steps))}


@pytest.mark.parametrize("stem", WITH_PLAN)
def test_the_curves_of_cost_go_through_the_costs_that_the_verdict_shows(stem: str) -> None:
    result, plan, _ = in_time(stem)
    picture = cost_picture(result, plan)
    assert picture is not None
    root = drawn(picture.drawings[0])
    likely = next(k for k in result.verdict.likely if k.scope == plan.scope)
    curves = points(root)
    widest = max(x for line in curves.values() for x, _ in line)
    for name, spread in (("as seen", plan.estimate.total), ("with the unseen", likely.cost)):
        at = {round(share): cost for cost, share in curves[name]}
        for share, cost in ((10, spread.p10), (50, spread.p50), (90, spread.p90)):
            assert at[share] == pytest.approx(cost, abs=widest / 5000)
    ceiling = result.job.owner.ceiling
    for line in of_class(root, "limit"):
        assert ceiling is not None
        assert scale(root, "x")(float(line.get("x1", ""))) == pytest.approx(
            ceiling, abs=widest / 5000
        )


WITHOUT_FIGURES = {"double_expression", "flooded", "pressure_harmonium"}
"""Fixtures of which nothing was measured that a plugin could draw."""


@pytest.mark.parametrize("stem", FIXTURES)
def test_points_of_plugins_figures_stand_at_their_values(stem: str) -> None:
    result = assessed(stem)
    assert result.figures or stem in WITHOUT_FIGURES
    for figure, picture in zip(result.figures.values(), pictures(stem), strict=True):
        read = points(drawn(picture.drawings[0]))
        wide, high = (
            max(1e-9, *(abs(p[n]) for s in figure.series for p in s.points)) for n in (0, 1)
        )
        assert set(read) == {s.name for s in figure.series}
        for series in figure.series:
            for (x, y), (at_x, at_y) in zip(series.points, read[series.name], strict=True):
                assert at_x == pytest.approx(x, abs=wide / 2000)
                assert at_y == pytest.approx(y, abs=high / 2000)


@pytest.mark.parametrize("stem", FIXTURES)
def test_the_numbers_of_a_figure_stand_in_its_table(stem: str) -> None:
    pairs = list(zip(assessed(stem).figures.values(), pictures(stem), strict=True))
    assert pairs or stem in WITHOUT_FIGURES
    for figure, picture in pairs:
        assert picture.columns[1:] == tuple(s.name for s in figure.series)
        for column, series in enumerate(figure.series, 1):
            said = [c for row in picture.rows if row[column] for c in row[column].split("; ")]
            flags = [f for f in figure.flags if f.series == series.name]
            for flag in flags:
                assert said.count(flag.says) == len(flag.at)
            words = {flag.says for flag in flags}
            cells = [c.split(" \u00b1 ")[0] for c in said if c not in words]
            assert len(cells) == len(series.points)
            assert not [cell for cell in cells if float(cell) == 0 and cell.startswith("-")]
            every = [y for s in figure.series for _, y in s.points]
            grain = max(1e-3, max(every) - min(every)) / 20
            if not series.points:
                continue
            low, high = (f(y for _, y in series.points) for f in (min, max))
            assert min(map(float, cells)) == pytest.approx(low, abs=grain)
            assert max(map(float, cells)) == pytest.approx(high, abs=grain)


def test_figures_of_the_four_plugins_are_there() -> None:
    result = assessed("tight_budget")
    named = {"pneumatics.leak_down", "action.key_level", "action.key_dip", "reeds.departures"}
    named |= {"reeds.pitches", "casework.panel_movement", "casework.panel_year"}
    assert named <= set(result.figures)
    for figure in result.figures.values():
        assert figure.says.endswith(".")
        assert "," in figure.y or "%" in figure.y


def measured_figure() -> Figure:
    upper = Series("upper", ((1.0, 4.0), (2.0, 6.0), (4.0, 5.0)), (0.5, 0.0, 1.5))
    behind = Series("expected", ((1.0, 4.5), (4.0, 5.5)), behind=True)
    flags = (Flag("upper", "absent", (3.0,)), Flag("upper", "late", (2.0, 4.0)))
    names = {float(n): f"row {n}" for n in range(6)}
    ticks = (1.0, 4.0)
    return Figure("f", "t", "row", "y, m", (upper, behind), (), "", False, flags, names, ticks)


def test_bars_reach_as_far_as_the_uncertainty_and_only_where_it_is_known() -> None:
    root = drawn(plugin_picture("x.f", measured_figure()).drawings[0])
    to_x, to_y = scale(root, "x"), scale(root, "y")
    bars = [
        tuple(f(float(bar.get(k, ""))) for k, f in (("x1", to_x), ("y1", to_y), ("y2", to_y)))
        for bar in of_class(root, "spread")
    ]
    assert bars == [pytest.approx(b, abs=0.02) for b in ((1, 3.5, 4.5), (4, 3.5, 6.5))]


def test_flags_stand_below_the_plot_at_their_places_in_a_row_of_their_own() -> None:
    root = drawn(plugin_picture("x.f", measured_figure()).drawings[0])
    to_x = scale(root, "x")
    flags = [
        (flag.get("data-series"), *map(float, flag.get("d", "").split()[1:3]))
        for flag in of_class(root, "flag")
    ]
    assert [(name, round(to_x(x), 2)) for name, x, _ in flags] == [
        ("upper: absent", 3),
        ("upper: late", 2),
        ("upper: late", 4),
    ]
    lowest = max(float(t.get("y", "")) for t in of_class(root, "tick-x"))
    rows = [y for _, _, y in flags]
    assert lowest < rows[0] < rows[1] == rows[2]
    names = {t.text: float(t.get("y", "")) for t in root.iter("text")}
    assert names["upper: absent"] == pytest.approx(rows[0], abs=6)
    assert names["upper: late"] == pytest.approx(rows[1], abs=6)
    assert {t.text for t in of_class(root, "tick-x")} == {"row 1", "row 4"}


def test_a_table_names_places_and_says_uncertainty_and_flags() -> None:
    assert plugin_picture("x.f", measured_figure()).rows == (
        ("row 1", "4.00 \u00b1 0.50", "4.50"),
        ("row 2", "6.00; late", ""),
        ("row 3", "absent", ""),
        ("row 4", "5.00 \u00b1 1.50; late", "5.50"),
    )


def test_a_line_behind_is_drawn_before_the_points_without_any_of_its_own() -> None:
    root = drawn(plugin_picture("x.f", measured_figure()).drawings[0])
    marks = [e.get("class", "") for e in root]
    assert marks.index("behind") < min(n for n, m in enumerate(marks) if m.startswith("point"))
    assert {p.get("data-series") for p in of_class(root, "point")} == {"upper", None}


def test_a_legend_of_many_series_stays_within_the_drawing() -> None:
    lines = [Line(f"a series with a long name {n}", ((0.0, float(n)),)) for n in range(8)]
    marks, height = xy_plot(lines, "x, m", "y, m")
    root = drawn(svg("s", "t", "d", height, marks))
    (legend,) = of_class(root, "legend")
    names = list(legend.iter("text"))
    assert len(names) == 8
    assert all(float(t.get("x", "")) + 5.6 * len(t.text or "") <= 720 for t in names)
    top = min(float(t.get("y1", "")) for t in of_class(root, "grid"))
    assert max(float(t.get("y", "")) for t in names) < top


NUMBERS = st.floats(-1e6, 1e6, allow_nan=False).map(lambda v: round(v, 3))


def test_a_pressure_reservoir_is_drawn_as_it_falls() -> None:
    figure = assessed("pressure_harmonium").figures["pneumatics.leak_down"]
    assert figure.y == "fall, % of the full travel"
    assert figure.series[0].points[-1] == (13, 100)
    assert "falls to the bottom within 13 s" in figure.says
    assert "pressure" in " ".join(figure.notes)


def test_a_panel_is_widest_half_a_year_after_the_driest_weeks() -> None:
    figure = assessed("tight_budget").figures["casework.panel_year"]
    (series,) = figure.series
    months, wider = zip(*series.points, strict=True)
    assert months == tuple(map(float, range(13)))
    assert wider[0] == wider[12] == 0
    assert wider[:7] == tuple(sorted(wider[:7]))
    assert wider[6] > 1  # mm, 380 mm of walnut over 19 points of humidity
    assert f"{wider[6]:.1f} mm wider" in figure.says
    assert "casework.panel_year" not in assessed("one_strap").figures  # no width was given


@pytest.mark.parametrize("name", ["action.key_level", "action.key_dip", "reeds.departures"])
def test_keys_have_the_names_of_their_notes_at_the_axis_and_in_the_table(name: str) -> None:
    figure = assessed("tight_budget").figures[name]
    picture = plugin_picture(name, figure)
    ticks = [t.text for t in of_class(drawn(picture.drawings[0]), "tick-x")]
    assert ticks == ["C2", "C3", "C4", "C5", "C6"]
    keys = sorted({x for series in figure.series for x, _ in series.points})
    assert [key_number(row[0]) for row in picture.rows] == keys


@given(st.lists(st.tuples(NUMBERS, NUMBERS), min_size=1, max_size=20))
def test_any_points_stand_at_their_values(given_points: list[tuple[float, float]]) -> None:
    marks, height = xy_plot([Line("a", tuple(given_points))], "x, m", "y, m")
    root = drawn(svg("s", "t", "d", height, marks))
    read = points(root)["a"]
    for n in (0, 1):
        values = [p[n] for p in given_points]
        width = max(max(values) - min(values), 1.0)
        for value, at in zip(values, [p[n] for p in read], strict=True):
            # A tick is labelled with six figures, as the numbers here are large.
            assert at == pytest.approx(value, abs=width / 500 + 2e-5 * max(map(abs, values)))


@given(NUMBERS, st.floats(1e-3, 1e6), st.integers(3, 12))
def test_ticks_are_round_within_the_range_and_not_too_many(
    low: float, width: float, most: int
) -> None:
    ticks = nice_ticks(low, low + width, most)
    assert len(ticks) <= most
    assert all(low - 1e-6 * width <= tick <= low + width * (1 + 1e-6) for tick in ticks)


def test_what_a_user_wrote_stays_text_in_a_drawing() -> None:
    bad = "<script>alert(1)</script> & \"'"
    nodes = [Node(1, bad, bad, bad), Node(2, bad, bad, bad)]
    marks, height = arcs_plot(nodes, [Edge(1, 2, True)])
    root = drawn(svg("s", bad, bad, height, marks))
    assert not [e for e in root.iter() if e.tag == "script"]
    figure = Figure("f", bad, bad, bad, (Series(bad, ((0, 1), (1, 2))),))
    root = drawn(plugin_picture("x.f", figure).drawings[0])
    assert not [e for e in root.iter() if e.tag == "script"]
    assert {m.get("data-series") for m in of_class(root, "point")} == {bad}


def test_a_figure_with_one_point_or_none_is_drawn() -> None:
    for series in ((), ((3.0, 4.0),), ((3.0, 4.0), (3.0, 4.0))):
        picture = plugin_picture("x.f", Figure("f", "t", "x, m", "y, m", (Series("a", series),)))
        assert len(picture.rows) == min(1, len(series))
