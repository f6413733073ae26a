"""Reasons as an indented tree."""

from __future__ import annotations

from assess.explain import ExplanationNode
from assess.output.layout import paragraph


def tree_text(branch: ExplanationNode, depth: int = 0) -> str:
    """A branch and all under it, each level indented by two."""
    indent = "  " * depth
    mark = "- " if depth else ""
    lines = [paragraph(branch.text, indent + " " * len(mark), indent + mark)]
    lines += [tree_text(below, depth + 1).rstrip("\n") for below in branch.under]
    return "\n".join(lines) + "\n"
