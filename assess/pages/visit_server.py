"""The visit page served from this machine: who may use it, and what it answers.

It listens on this machine alone, or for a phone in the same network as well. Whoever opens it
must know the key that the terminal prints; the browser then holds a cookie instead. Requests
that name another host, or come from another page, are turned away. The key is written nowhere.
"""

from __future__ import annotations

import hmac
import io
import os
import secrets
import socket
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from functools import partial
from typing import IO, Any

import segno
import waitress
from flask import Flask, Response, jsonify, make_response, redirect, render_template, request
from werkzeug.exceptions import HTTPException

from assess.base.errors import AssessError, UserError
from assess.pages.visit_data import job_mark
from assess.pages.visit_entries import Contradicted, Refused
from assess.pages.visit_inbox import Inbox
from assess.visit.photographs import MOST_BYTES
from assess.visit.recordings import MOST_BYTES as MOST_RECORDED

PORT = 8460
LOOPBACK = "127.0.0.1"
MOST_BODY = 300_000
"""Bytes of an entry that is no photograph and no recording."""
SLACK = 10_000
OPTION = "option."
"""Before the name of what is said of a recording."""
THREADS = 4
HEADERS = {
    "Content-Security-Policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; "
        "img-src 'self'; "
        "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
    ),
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cache-Control": "no-store",
    "Cross-Origin-Resource-Policy": "same-origin",
}
TOO_LARGE = {
    "/photograph": f"; a photograph may have {MOST_BYTES // 1_000_000} MB",
    "/hear": f"; a recording may have {MOST_RECORDED // 1_000_000} MB: take it in parts",
}
STYLE = "/static/visit.css"
"""What everybody may load: the page that turns somebody away needs it."""
CLOSED = "Open the address that the terminal shows now; an older one is no longer valid."


def new_key() -> str:
    """A key of 128 bits that nobody can guess."""
    return secrets.token_hex(16)


@dataclass(frozen=True)
class Doors:
    """Who may come in.

    Attributes:
        hosts: the names, with port, under which the page may be asked for.
        key: opens it, once for each browser; as :func:`new_key` makes it.
        cookie: what the browser holds afterwards.
        name: the name of that cookie, which differs from port to port.
    """

    hosts: frozenset[str]
    key: str = field(repr=False)
    cookie: str = field(default_factory=new_key, repr=False)
    name: str = "visit"

    def knows(self, cookie: str | None) -> bool:
        """Whether a browser was let in already."""
        return cookie is not None and hmac.compare_digest(cookie.encode(), self.cookie.encode())

    def opens(self, key: str) -> bool:
        """Whether a key is the right one."""
        return hmac.compare_digest(key.encode(), self.key.encode())

    def is_own(self, origin: str | None) -> bool:
        """Whether a request comes from the page itself."""
        return origin is not None and origin.removeprefix("http://") in self.hosts


def visit_app(inbox: Inbox, doors: Doors) -> Flask:
    """The page and what it asks for, as an application to serve.

    Args:
        inbox: takes what is entered.
        doors: who may come in.
    """
    app = Flask("assess.pages")
    app.json.sort_keys = False  # type: ignore[attr-defined] # the order is that of the visit
    app.before_request(lambda: _turned_away(doors))
    app.after_request(_with_headers)
    app.register_error_handler(AssessError, _out_of_order)
    app.register_error_handler(Refused, _refused)
    app.register_error_handler(Contradicted, _contradicted)
    app.register_error_handler(HTTPException, _http_error)
    _add_pages(app, inbox)
    _add_entries(app, inbox)
    return app


def _add_pages(app: Flask, inbox: Inbox) -> None:
    app.add_url_rule("/", "page", lambda: render_template("visit.html", job=_mark(inbox)))
    app.add_url_rule("/visit", "visit", lambda: jsonify(inbox.data()))
    app.add_url_rule("/craftsman", "craftsman", lambda: jsonify(inbox.craftsman()))
    app.add_url_rule("/favicon.ico", "icon", lambda: ("", 204))


def _add_entries(app: Flask, inbox: Inbox) -> None:
    def entry(path: str, save: Callable[[Mapping[str, Any]], Mapping[str, Any]]) -> None:
        app.add_url_rule(path, path, lambda: jsonify(save(_sent())), methods=["POST"])

    entry("/answer", inbox.answer)
    entry("/tell", inbox.tell)
    entry("/fill", inbox.fill)

    def photograph() -> Response:
        request.max_content_length = MOST_BYTES + SLACK
        about = request.args.get("about", "")
        sent = {name: request.args.get(name, "") for name in ("id", "device")}
        return jsonify(inbox.photograph(sent, about, request.get_data()))

    app.add_url_rule("/photograph", "photograph", photograph, methods=["POST"])

    def kept_photograph() -> Response:
        number = request.args.get("number", 0, type=int)
        small = inbox.kept_photograph(request.args.get("about", ""), number)
        return Response(small, mimetype="image/jpeg")

    app.add_url_rule("/photograph", "kept_photograph", kept_photograph, methods=["GET"])

    def recording(hear: Callable[[Mapping[str, Any], IO[bytes]], Mapping[str, Any]]) -> Response:
        request.max_content_length = MOST_RECORDED
        sent = {name: request.args.get(name, "") for name in ("id", "device", "survey", "name")}
        said = {
            name.removeprefix(OPTION): words
            for name, words in request.args.items()
            if name.startswith(OPTION)
        }
        return jsonify(hear({**sent, "options": said}, request.stream))

    for path, hear in (("/hear", inbox.hear), ("/hear_so_far", inbox.preview)):
        app.add_url_rule(path, path, partial(recording, hear), methods=["POST"])


def _mark(inbox: Inbox) -> str:
    return job_mark(inbox.visit.path)


def _sent() -> Mapping[str, Any]:
    """The entry in the body of a request.

    Raises:
        Refused: it is none.
    """
    request.max_content_length = MOST_BODY
    try:
        sent = request.get_json(silent=True)
    except RecursionError:  # nested so deep that no page of ours made it
        sent = None
    if not isinstance(sent, dict):
        raise Refused("not understood: expected one entry as JSON")
    return sent


def _turned_away(doors: Doors) -> Any:
    """An answer for those who may not come in, or None."""
    if request.environ.get("HTTP_HOST", "") not in doors.hosts:
        return _closed("This page answers only to the address that the terminal shows.", 400)
    key = request.args.get("key")
    if request.path == "/" and key is not None:
        if not doors.opens(key):
            return _closed(f"This key is not the right one. {CLOSED}", 403)
        let_in = make_response(redirect("/", 303))
        let_in.set_cookie(doors.name, doors.cookie, httponly=True, samesite="Strict")
        return let_in
    if request.path == STYLE:
        return None
    if not doors.knows(request.cookies.get(doors.name)):
        return _closed(CLOSED, 403)
    if request.method == "POST" and not doors.is_own(request.headers.get("Origin")):
        return _closed("This came from another page, and nothing was saved.", 403)
    return None


def _closed(message: str, status: int) -> Any:
    if request.method == "GET" and request.path == "/":
        return render_template("visit_closed.html", message=message), status
    return _error("closed", message, status)


def _error(kind: str, message: str, status: int, **more: Any) -> tuple[Response, int]:
    return jsonify({"error": kind, "message": message, **more}), status


def _out_of_order(error: AssessError) -> tuple[Response, int]:
    return _error("file", str(error), 503)


def _refused(error: Refused) -> tuple[Response, int]:
    return _error("refused", str(error), 422)


def _contradicted(error: Contradicted) -> tuple[Response, int]:
    return _error("contradicted", str(error), 409, there=error.there)


def _http_error(error: HTTPException) -> tuple[Response, int]:
    status = error.code or 500
    if status == 413:
        return _error("refused", f"too large{TOO_LARGE.get(request.path, '')}", 413)
    return _error("failed", f"{status} {error.name}", status)


def _with_headers(response: Response) -> Response:
    for name, value in HEADERS.items():
        response.headers[name] = value
    return response


@dataclass(frozen=True)
class Served:
    """A server that listens, and the addresses with the key under which it is found."""

    server: Any
    addresses: tuple[str, ...]

    def run(self) -> None:
        """Answer until interrupted."""
        self.server.run()

    def close(self) -> None:
        """Stop."""
        self.server.close()


def listen(inbox: Inbox, phone: bool, port: int = PORT) -> Served:
    """Begin to listen.

    Args:
        inbox: takes what is entered.
        phone: also for a phone in the same network; its address comes first.
        port: where; 0 takes a free one.

    Raises:
        UserError: there is no network for a phone, or the port is taken.
    """
    near = network_addresses() if phone else []
    if phone and not near:
        raise UserError(
            "--phone: this machine is in no network. Join the phone's hotspot or the same Wi-Fi "
            "first; no internet is needed"
        )
    sockets = [_bound(LOOPBACK, port)]
    port = sockets[0].getsockname()[1]
    sockets += [_bound(address, port) for address in near]
    hosts = [f"{address}:{port}" for address in (*near, LOOPBACK)]
    doors = Doors(frozenset([*hosts, f"localhost:{port}"]), new_key(), name=f"visit_{port}")
    app = visit_app(inbox, doors)
    server = waitress.create_server(
        app,
        sockets=sockets,
        threads=THREADS,
        max_request_body_size=MOST_RECORDED + SLACK,
        ident=None,
        clear_untrusted_proxy_headers=True,
    )
    return Served(server, tuple(f"http://{host}/?key={doors.key}" for host in hosts))


def _bound(address: str, port: int) -> socket.socket:
    """A socket that is bound to an address and a port.

    Raises:
        UserError: it is taken.
    """
    bound = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        if os.name == "posix":  # elsewhere it would let two programs take one port
            bound.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        bound.bind((address, port))
    except OSError as error:
        bound.close()
        hint = "stop the other program, or give another one with --port"
        raise UserError(f"port {port} cannot be used ({error.strerror}); {hint}") from None
    return bound


def network_addresses() -> list[str]:
    """The addresses of this machine in networks near it, the likeliest first."""
    found = [*_towards(("10.255.255.255", "192.168.255.255", "172.31.255.255")), *_of_interfaces()]
    return [a for a in dict.fromkeys(found) if not a.startswith(("127.", "169.254.", "0."))]


def _towards(far: Iterable[str]) -> list[str]:
    """From which address one would reach others; nothing is sent."""
    found = []
    for address in far:
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
            try:
                probe.connect((address, 9))
            except OSError:
                continue
            found.append(probe.getsockname()[0])
    return found


def _of_interfaces() -> list[str]:
    """The addresses that the machine's own name stands for."""
    try:
        named = socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)
    except OSError:
        return []
    return [str(entry[4][0]) for entry in named]


def qr_code(address: str) -> str:
    """An address as a QR code for the terminal, dark modules on light."""
    drawn = io.StringIO()
    segno.make(address, error="m").terminal(out=drawn, compact=True)
    return drawn.getvalue()
