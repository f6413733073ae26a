"""What tests of the visit page share: a visit of the toy cart, and a browser's requests to it."""

from __future__ import annotations

import copy
import io
import secrets
from pathlib import Path
from typing import Any

import toy
from flask.testing import FlaskClient
from PIL import Image
from werkzeug.test import TestResponse

from assess.job.workshop_profile import load_workshop
from assess.knowledge.knowledge_base import Knowledge
from assess.pages.visit_inbox import Inbox
from assess.pages.visit_server import Doors, new_key, visit_app
from assess.visit.session import VisitSession

HOST = "127.0.0.1:8460"
ORIGIN = f"http://{HOST}"
SPOKES = {
    "id": "spokes",
    "title": "Spokes: one by one",
    "key": ["spoke", "wheel"],
    "grid": {
        "row": "spoke",
        "by": ["wheel"],
        "mark": "state",
        "number": "length",
        "remark": "remarks",
    },
    "columns": [
        {"id": "spoke", "required": True, "choices": ["1", "2", "3", "4"]},
        {"id": "wheel", "required": True},
        {"id": "state", "choices": ["firm", "loose", "broken"]},
        {"id": "length", "unit": "mm", "possible": [0, 2000]},
        {"id": "remarks", "choices": ["painted"]},
    ],
}


def cart() -> Knowledge:
    """The toy cart, with a survey that is shown as a grid."""
    wheels = copy.deepcopy(toy.WHEELS)
    wheels["survey"] = [SPOKES]
    return toy.knowledge(wheels, toy.BOX)


def inbox(path: Path, **options: Any) -> Inbox:
    """An inbox over a job file of the cart."""
    knowledge = cart()
    return Inbox(VisitSession(path, knowledge, load_workshop(trade=knowledge.trade), **options))


class Page:
    """A browser that was let in, or not."""

    def __init__(self, path: Path, let_in: bool = True, **options: Any) -> None:
        self.inbox = inbox(path, **options)
        self.doors = Doors(frozenset([HOST]), new_key())
        self.client: FlaskClient = visit_app(self.inbox, self.doors).test_client()
        self.device = secrets.token_hex(8)
        if let_in:
            assert self.get(f"/?key={self.doors.key}").status_code == 303

    def get(self, path: str, host: str = HOST) -> TestResponse:
        """Ask for something."""
        return self.client.get(path, base_url=ORIGIN, headers={"Host": host}, buffered=True)

    def post(self, path: str, sent: Any, origin: str | None = ORIGIN) -> TestResponse:
        """Send JSON."""
        headers = {"Origin": origin} if origin else {}
        return self.client.post(path, base_url=ORIGIN, json=sent, headers=headers)

    def send(self, kind: str, **sent: Any) -> TestResponse:
        """Send an entry with an id of its own."""
        entry = {"id": secrets.token_hex(8), "device": self.device, **sent}
        return self.post(f"/{kind}", entry)

    def answer(self, question: str, words: str, **more: Any) -> TestResponse:
        """Answer a question."""
        return self.send("answer", question=question, words=words, **more)

    def photograph(self, about: str, data: bytes) -> TestResponse:
        """Send a photograph."""
        query = {"id": secrets.token_hex(8), "device": self.device, "about": about}
        return self.client.post(
            "/photograph",
            base_url=ORIGIN,
            query_string=query,
            data=data,
            headers={"Origin": ORIGIN, "Content-Type": "application/octet-stream"},
        )


def new(folder: Path, text: str = "") -> Path:
    """A job file."""
    path = folder / "cart.toml"
    path.write_text(f"format = 1  # kept\n{text}", encoding="utf-8")
    return path


def picture(kind: str = "JPEG", size: tuple[int, int] = (60, 40), **options: object) -> bytes:
    """A picture, its upper left quarter black, the rest white."""
    image = Image.new("RGB", size, "white")
    image.paste("black", (0, 0, size[0] // 2, size[1] // 2))
    written = io.BytesIO()
    image.save(written, kind, **options)
    return written.getvalue()
