"""A new job file, with every feature and number there is as a comment."""

from __future__ import annotations

import json

from assess.knowledge.declaration import Fact, Feature
from assess.knowledge.knowledge_base import Knowledge

HEAD = """\
# One instrument. Lines that begin with # are comments: take the # away and fill in.
format = 1
title = {title}
# date = 2026-01-31                # of the inspection

[owner]
# wish = "full"                    # or "playing", "stabilise"
# ceiling = 3000                   # the most the owner will pay
# worth = 400                      # what the owner says it is worth
# attachment = 0                   # 0 none .. 3 would not part with it
# significance = 0                 # 0 none .. 3 early, rare or unaltered
# reason_to_use = ""              # documented reason to make a significant one play

[instrument]
description = ""

[instrument.features]
"""


def blank_job(knowledge: Knowledge, title: str) -> str:
    """The text of a new job file."""
    text = HEAD.format(title=json.dumps(title, ensure_ascii=False))
    text += "".join(_feature(f) for f in knowledge.features.values())
    text += "\n[instrument.facts]\n"
    text += "".join(_fact(f) for f in knowledge.facts.values())
    text += "\n# Answers are put in by `assess ask`, or by hand, one table for each subsystem:\n"
    text += "".join(f"# [answers.{s}]\n" for s in knowledge.subsystems)
    return text


def _feature(feature: Feature) -> str:
    usual = json.dumps(feature.usual)
    kinds = f"; one of {', '.join(feature.options)}" if feature.options else ""
    return f"# {feature.id} = {usual}  # {feature.asks}{kinds}\n"


def _fact(fact: Fact) -> str:
    usual = "" if fact.usual is None else f"{fact.usual:g}"
    unit = "" if fact.unit == "count" else f", in {fact.unit}"
    return f"# {fact.id} = {usual}  # {fact.asks}{unit}\n"
