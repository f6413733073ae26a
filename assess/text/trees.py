"""Reasons as an indented tree."""

from __future__ import annotations

import textwrap

from assess.reasons import Branch
from assess.text.tables import WIDTH


def tree_text(branch: Branch, depth: int = 0) -> str:
    """A branch and all under it, each level indented by two."""
    indent = "  " * depth
    mark = "- " if depth else ""
    lines = [
        textwrap.fill(
            branch.text,
            WIDTH,
            initial_indent=indent + mark,
            subsequent_indent=indent + " " * len(mark),
            break_long_words=False,
            break_on_hyphens=False,
        )
    ]
    lines += [tree_text(below, depth + 1).rstrip("\n") for below in branch.under]
    return "\n".join(lines) + "\n"
