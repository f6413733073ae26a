"""Reasons as an indented tree."""

from __future__ import annotations

from assess.explain import ExplanationNode
from assess.output.layout import paragraph


def tree_text(node: ExplanationNode, depth: int = 0) -> str:
    """A statement and everything it rests on, each level indented by two."""
    indent = "  " * depth
    mark = "- " if depth else ""
    lines = [paragraph(node.text, indent + " " * len(mark), indent + mark)]
    lines += [tree_text(below, depth + 1).rstrip("\n") for below in node.under]
    return "\n".join(lines) + "\n"
