"""Installed knowledge, and what is wrong with it, as text."""

from __future__ import annotations

from collections.abc import Sequence

from assess.base.wording import counted
from assess.knowledge.knowledge_base import Knowledge
from assess.knowledge.lint import measured_share
from assess.knowledge.steps import subsystem_of
from assess.output.layout import bullets, paragraph, section, table


def subsystems_text(knowledge: Knowledge) -> str:
    """The installed subsystems with the size of what they know."""
    rows = []
    for info in knowledge.subsystems.values():
        criteria, measured = measured_share(knowledge, info.id)
        repairs = sum(subsystem_of(r) == info.id for r in knowledge.repairs)
        holds = sum(subsystem_of(h) == info.id for h in knowledge.hold_points)
        rows.append([info.id, info.title, criteria, measured, repairs, holds])
    headers = ["Id", "Title", "Criteria", "Measured", "Repairs", "Tests"]
    text = table(rows, headers, [14, 24, None, None, None, None], right=(2, 3, 4, 5))
    faults = [
        f"{fault.subsystem or fault.plugin}: NOT ASSESSED. {line}"
        for fault in knowledge.faults
        for line in fault.lines()
    ]
    return text + "\n" + (f"\n{bullets(faults)}\n" if faults else "")


def check_text(
    knowledge: Knowledge, doubts: Sequence[str], mistakes: Sequence[str], files: int
) -> str:
    """What a check of knowledge, job files and a workshop profile found."""
    parts = [
        section(title, bullets(lines)) + "\n"
        for title, lines in (
            ("Plugins left out", [line for f in knowledge.faults for line in f.lines()]),
            ("Probably mistakes", doubts),
            ("Ignored references (target missing)", ignored_references(knowledge)),
            ("Job files and profile", mistakes),
        )
        if lines
    ]
    if parts:
        return "\n".join(parts)
    found = [
        counted(len(knowledge.subsystems), "subsystem"),
        counted(len(knowledge.criteria), "criterion", "criteria"),
        counted(len(knowledge.repairs), "repair"),
        counted(len(knowledge.hold_points), "hold point"),
    ]
    checked = f"; {counted(files, 'file')}" if files else ""
    return paragraph(f"Nothing wrong: {', '.join(found)}{checked}.") + "\n"


def ignored_references(knowledge: Knowledge) -> list[str]:
    """References to what no installed plugin declares, where its subsystem is not installed."""
    return [
        f"{d.owner}: {d.field}: {d.target} ({d.reason})"
        for d in knowledge.dropped
        if not d.installed
    ]
