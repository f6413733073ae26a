"""What a plan buys: materials, help, other trades and travel."""

from __future__ import annotations

from assess.output.layout import (
    amount,
    money_span,
    section,
    table,
)
from assess.planning.plan import Plan
from assess.planning.workload import MaterialNeed


def materials_columns(plan: Plan) -> list[str]:
    """Headings of the table of materials."""
    return ["Material, with waste", "Amount", plan.cost.currency, "Days to get"]


def materials_rows(plan: Plan) -> list[list[str]]:
    """What to buy for a plan: amount with waste, price, days to get it."""
    return [
        [m.title, quantity_said(m), f"{m.price:,.0f}", str(m.lead_days or "")]
        for m in plan.materials
        if m.kind == "material"
    ]


def materials_text(plan: Plan) -> str:
    """The table of materials; nothing where none is bought."""
    rows = materials_rows(plan)
    if not rows:
        return ""
    shown = table(rows, materials_columns(plan), [40, 16, 8, 11], right=(2, 3))
    return section("Materials", shown)


def others_columns(plan: Plan) -> list[str]:
    """Headings of the table of help, other trades and travel."""
    return ["Help, other trades, travel", "Amount", plan.cost.currency, "Range", "Days to get"]


def others_rows(plan: Plan) -> list[list[str]]:
    """Lines of their own for helpers, other trades and journeys."""
    rows = [
        [m.title, quantity_said(m), f"{m.price:,.0f}", _price_range(m), str(m.lead_days or "")]
        for m in plan.materials
        if m.kind != "material"
    ]
    if plan.cost.transport:
        title = "Carrying it to the workshop and back"
        rows.append([title, "1", f"{plan.cost.transport:,.0f}", "", ""])
    return rows


def others_text(plan: Plan) -> str:
    """The table of help, other trades and travel; nothing where there is none."""
    rows = others_rows(plan)
    if not rows:
        return ""
    shown = table(rows, others_columns(plan), [34, 8, 8, 12, 11], right=(2, 4))
    return section("Others and travel", shown)


def quantity_said(need: MaterialNeed) -> str:
    """How much of a material is needed, with its unit; ``a little`` where it rounds to none."""
    said = amount(need.quantity)
    if said == "0":
        return "a little"
    return said + ("" if need.unit == "each" else f" {need.unit}")


def _price_range(need: MaterialNeed) -> str:
    if need.price_low == need.price_high:
        return ""
    return money_span(need.price_low, need.price_high)
