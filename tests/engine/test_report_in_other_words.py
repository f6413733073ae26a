"""The report on the toy world: it speaks the words of its trade, and needs no plugin's figures."""

from __future__ import annotations

import datetime as dt
import re

import toy

import assess
from assess.pages.report import report_of, report_page

WRITTEN = dt.date(2026, 11, 30)
JOB = """
title = "Cart of the market"
[answers.wheels]
broken_spokes = 3
"""


def test_it_speaks_of_the_cart() -> None:
    result = assess.assess(toy.job(JOB), knowledge=toy.knowledge())
    page = report_page(result, "full", WRITTEN)
    assert "Condition report of the cart" in page
    assert not re.search(r"\b(instrument|organ|reed|play)", page.partition("<body>")[2])


def test_without_figures_of_plugins_there_are_those_of_the_engine() -> None:
    result = assess.assess(toy.job(JOB), knowledge=toy.knowledge())
    made = report_of(result, "full", WRITTEN)
    assert made.pictures == ()
    assert made.order is not None
    assert made.lanes is not None
    assert made.cost_figure is not None
