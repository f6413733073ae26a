"""A page as a strict reader sees it."""

from __future__ import annotations

import re
from html.parser import HTMLParser

VOID = {"meta", "img", "br", "hr", "link", "input", "col"}
UNSEEN = {"style", "title", "desc"}


class Reader(HTMLParser):
    """Reads a page and fails where a tag is not closed in its place.

    Attributes:
        started: every tag with its attributes, in order.
    """

    def __init__(self, text: str) -> None:
        super().__init__()
        self.started: list[tuple[str, dict[str, str | None]]] = []
        self._open: list[str] = []
        self._words: list[str] = []
        self.feed(text)
        self.close()
        assert self._open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.started.append((tag, dict(attrs)))
        if tag not in VOID:
            self._open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.started.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self._open, f"</{tag}> closes nothing"
        assert self._open.pop() == tag

    def handle_data(self, data: str) -> None:
        if not UNSEEN & set(self._open):
            self._words.append(data)

    @property
    def tags(self) -> list[str]:
        """Names of the tags, in order."""
        return [tag for tag, _ in self.started]

    @property
    def levels(self) -> list[int]:
        """Levels of the headings, in order."""
        return [int(tag[1]) for tag in self.tags if re.fullmatch("h[1-6]", tag)]

    @property
    def policy(self) -> str:
        """What the page allows itself to load."""
        return next(named["content"] or "" for _, named in self.started if "http-equiv" in named)

    @property
    def text(self) -> str:
        """What stands on the page, without its title and those of drawings."""
        return " ".join(" ".join(self._words).split())
