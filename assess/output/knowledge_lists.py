"""Installed knowledge, and what is wrong with it, as text."""

from __future__ import annotations

from collections.abc import Sequence

from assess.knowledge.knowledge_base import Knowledge, subsystem_of
from assess.knowledge.lint import measured_share
from assess.output.layout import bullets, heading, paragraph, table


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
    faults = [f"{f.subsystem or f.plugin}: NOT ASSESSED. {f}" for f in knowledge.faults]
    return text + "\n" + (f"\n{bullets(faults)}\n" if faults else "")


def check_text(
    knowledge: Knowledge, doubts: Sequence[str], mistakes: Sequence[str], jobs: int
) -> str:
    """What a check of knowledge and job files found."""
    parts = []
    for title, lines in (
        ("Plugins left out", [str(f) for f in knowledge.faults]),
        ("Declared, but cannot be meant", doubts),
        (
            "References dropped, since what they name is not there",
            [f"{d.owner}: {d.field}: {d.target} ({d.reason})" for d in knowledge.dropped],
        ),
        ("Job files", mistakes),
    ):
        if lines:
            parts.append(f"{heading(title, '-')}\n{bullets(lines)}\n")
    if not parts:
        counted = f"{len(knowledge.subsystems)} subsystems, {len(knowledge.criteria)} criteria, "
        counted += f"{len(knowledge.repairs)} repairs, {len(knowledge.hold_points)} hold points"
        files = f"; {jobs} job file{'s' if jobs != 1 else ''}" if jobs else ""
        return paragraph(f"Nothing wrong: {counted}{files}.") + "\n"
    return "\n".join(parts)
