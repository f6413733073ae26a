"""Who may use the visit page, what it saves, and what it refuses."""

from __future__ import annotations

import socket
from pathlib import Path

import pytest
import toy
from visits import HOST, ORIGIN, Page, inbox, new

from assess.base.errors import UserError
from assess.job.job_file import Answer
from assess.job.job_file import Job as JobFile
from assess.job.job_reading import load
from assess.pages import visit_server
from assess.pages.visit_server import listen, network_addresses, qr_code

PLAY, CRACK = "wheels.play", "box.crack"


def saved(path: Path) -> JobFile:
    return load(path, toy.knowledge().trade)


def answer_in(path: Path, question: str) -> Answer | None:
    subsystem, name = question.split(".")
    return saved(path).answers.get(subsystem, {}).get(name)


# --- who may come in


def test_the_key_opens_once_and_a_cookie_stays(tmp_path: Path) -> None:
    page = Page(new(tmp_path), let_in=False)
    opened = page.get(f"/?key={page.doors.key}")
    cookie = opened.headers["Set-Cookie"]
    assert opened.headers["Location"] == "/"
    assert "HttpOnly" in cookie
    assert "SameSite=Strict" in cookie
    assert page.doors.key not in cookie
    assert page.get("/").status_code == 200
    assert page.get("/visit").status_code == 200


@pytest.mark.parametrize(
    "path", ["/", "/visit", "/craftsman", "/static/visit.js", "/?key=", "/?key=0"]
)
def test_without_the_key_nothing_is_shown(tmp_path: Path, path: str) -> None:
    page = Page(new(tmp_path, 'title = "Secret cart"\n'), let_in=False)
    refused = page.get(path)
    assert refused.status_code == 403
    assert "Secret cart" not in refused.text
    assert "terminal shows" in refused.text


def test_a_key_has_128_bits_and_is_never_the_same() -> None:
    keys = {visit_server.new_key() for _ in range(50)}
    assert len(keys) == 50
    assert all(len(bytes.fromhex(key)) * 8 == 128 for key in keys)


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1:80", "127.0.0.1", ""])
def test_a_forged_host_is_turned_away(tmp_path: Path, host: str) -> None:
    page = Page(new(tmp_path))
    assert page.get("/visit", host=host).status_code == 400


@pytest.mark.parametrize("origin", [None, "null", "http://evil.example", f"https://{HOST}"])
def test_what_another_page_sends_is_not_saved(tmp_path: Path, origin: str | None) -> None:
    path = new(tmp_path)
    page = Page(path)
    sent = {"id": "1" * 16, "device": "2" * 16, "question": PLAY, "words": "4 mm"}
    assert page.post("/answer", sent, origin=origin).status_code == 403
    assert answer_in(path, PLAY) is None


def test_every_answer_has_a_strict_policy(tmp_path: Path) -> None:
    page = Page(new(tmp_path))
    for path in ("/", "/visit", "/static/visit.css", "/nothing"):
        headers = page.get(path).headers
        policy = headers["Content-Security-Policy"]
        assert policy.startswith("default-src 'none';")
        assert "unsafe" not in policy
        assert headers["X-Content-Type-Options"] == "nosniff"
        assert headers["Referrer-Policy"] == "no-referrer"
        assert headers["Cache-Control"] == "no-store"


def test_nothing_is_loaded_from_elsewhere_and_no_words_become_markup(
    tmp_path: Path,
) -> None:
    page = Page(new(tmp_path, 'title = "<script>alert(1)</script>"\n'))
    html = page.get("/").text
    assert "alert(1)" not in html
    assert "://" not in html
    script = page.get("/static/visit.js").text
    for sink in ("innerHTML", "outerHTML", "insertAdjacentHTML", "document.write", "eval("):
        assert sink not in script
    assert "://" not in script


def test_files_beside_the_page_are_out_of_reach(tmp_path: Path) -> None:
    page = Page(new(tmp_path))
    for path in ("/static/../visit_server.py", "/static/%2e%2e/visit_server.py", "/cart.toml"):
        assert page.get(path).status_code == 404


# --- answers


def test_an_answer_is_saved_as_the_terminal_saves_it(tmp_path: Path) -> None:
    path = new(tmp_path)
    page = Page(path)
    told = page.answer(PLAY, "7", note="left wheel").json
    assert told == {"answer": "7 mm", "read": "read as 7 mm", "cautions": []}
    assert answer_in(path, PLAY) == Answer(answer="7 mm", note="left wheel")
    assert page.answer(CRACK, "rotten", chosen=True).status_code == 200
    assert answer_in(path, CRACK) == Answer(answer="rotten")
    assert "# kept" in path.read_text(encoding="utf-8")


def test_a_danger_is_answered_with_its_caution(tmp_path: Path) -> None:
    path = new(tmp_path, "[instrument.features]\nbrake = true\n")
    page = Page(path)
    told = page.answer("wheels.shoe", "loose", chosen=True).json
    assert told
    assert "Heavy load." in told["cautions"][0]
    assert "the lifting rules in force" in told["cautions"][0]


@pytest.mark.parametrize(
    ("question", "words", "said"),
    [
        (PLAY, "fast", "not a number"),
        (PLAY, "2 s", "unit of time"),
        (PLAY, "1.500", "could be 1500 or 1.5"),
        (PLAY, "-2", "out of range"),
        ("wheels.broken_spokes", "2.5", "not a whole number"),
        ("wheels.nothing", "4", "no such question"),
    ],
)
def test_a_slip_is_explained_and_not_saved(
    tmp_path: Path, question: str, words: str, said: str
) -> None:
    path = new(tmp_path)
    before = path.read_text(encoding="utf-8")
    refused = Page(path).answer(question, words)
    assert refused.status_code == 422
    assert refused.json
    assert said in refused.json["message"]
    assert path.read_text(encoding="utf-8") == before


@pytest.mark.parametrize(
    "sent", [[], "x", None, {}, {"id": "1" * 16}, {"id": 5, "device": "2" * 16, "words": []}]
)
def test_what_is_no_entry_is_refused(tmp_path: Path, sent: object) -> None:
    refused = Page(new(tmp_path)).post("/answer", sent)
    assert refused.status_code == 422
    assert refused.json
    assert "not understood" in refused.json["message"]


def test_a_repeated_entry_is_saved_once(tmp_path: Path) -> None:
    path = new(tmp_path)
    page = Page(path)
    entry = {"id": "1" * 16, "device": page.device, "question": PLAY, "words": "4 mm"}
    first = page.post("/answer", entry)
    page.answer(PLAY, "6 mm")
    assert page.post("/answer", entry).json == first.json
    after = answer_in(path, PLAY)
    assert after
    assert after.answer == "6 mm"
    assert page.inbox.saved == 2


def test_a_repeated_entry_is_harmless_after_a_new_start(tmp_path: Path) -> None:
    path = new(tmp_path)
    entry = {"id": "1" * 16, "device": "2" * 16, "question": PLAY, "words": "4 mm"}
    assert Page(path).post("/answer", entry).status_code == 200
    assert Page(path).post("/answer", entry).status_code == 200
    assert answer_in(path, PLAY) == Answer(answer="4 mm")


def test_an_answer_that_nobody_saw_is_not_overwritten(tmp_path: Path) -> None:
    path = new(tmp_path)
    page = Page(path)
    other = {"id": "9" * 16, "device": "9" * 16, "question": PLAY, "words": "6 mm"}
    assert page.post("/answer", other).status_code == 200
    late = page.answer(PLAY, "4 mm")
    assert late.status_code == 409
    assert late.json
    assert late.json["there"] == "6 mm"
    kept = answer_in(path, PLAY)
    assert kept
    assert kept.answer == "6 mm"
    assert page.answer(PLAY, "4 mm", was="6 mm").status_code == 200
    changed = answer_in(path, PLAY)
    assert changed
    assert changed.answer == "4 mm"


def test_one_device_may_change_its_mind_before_it_hears(tmp_path: Path) -> None:
    path = new(tmp_path)
    page = Page(path)
    assert page.answer(PLAY, "4").status_code == 200
    assert page.answer(PLAY, "5", was=None).status_code == 200
    changed = answer_in(path, PLAY)
    assert changed
    assert changed.answer == "5 mm"


def test_what_the_terminal_saved_meanwhile_is_shown(tmp_path: Path) -> None:
    path = new(tmp_path)
    page = Page(path)
    with path.open("a", encoding="utf-8") as file:
        file.write('[answers.box]\ncrack = "one"\n')
    clash = page.answer(CRACK, "rotten", chosen=True)
    assert clash.status_code == 409
    assert clash.json
    assert clash.json["there"] == "one"


def test_a_job_file_broken_by_hand_is_named_and_mended(tmp_path: Path) -> None:
    path = new(tmp_path)
    page = Page(path)
    sound = path.read_text(encoding="utf-8")
    path.write_text("format = 1\n[answers\n", encoding="utf-8")
    for answered in (page.answer(PLAY, "4 mm"), page.get("/visit")):
        assert answered.status_code == 503
        assert answered.json
        assert answered.json["error"] == "file"
        assert str(path) in answered.json["message"]
    path.write_text(sound, encoding="utf-8")
    assert page.answer(PLAY, "4 mm").status_code == 200


def test_a_huge_entry_is_refused(tmp_path: Path) -> None:
    refused = Page(new(tmp_path)).answer(PLAY, "4 mm", note="x" * 400_000)
    assert refused.status_code == 413
    assert refused.json
    assert refused.json["error"] == "refused"


# --- the door


def test_the_door_is_answered_and_contradictions_come_back(tmp_path: Path) -> None:
    path = new(tmp_path)
    page = Page(path)
    assert page.send("tell", question="history.works", words="well").json
    told = page.send("tell", question="history.complaint", words="wheels.stuck").json
    assert told
    assert told["answer"] == "It does not move"
    assert "which is right?" in told["doubts"][0]
    history = saved(path).history
    assert history.works == "well"
    assert [c.symptom for c in history.complaint] == ["wheels.stuck"]


def test_what_the_door_is_told_keeps_what_stands_beside_it(tmp_path: Path) -> None:
    text = """
[[history.complaint]]
symptom = "wheels.wobbles"
words = "like a goose"
came = "slowly"

[[history.overhaul]]
year = 1950
how_far = "working"

[[history.overhaul]]
year = 1990
subsystem = "wheels"
"""
    path = new(tmp_path, text)
    page = Page(path)
    both = "wheels.wobbles wheels.stuck"
    shown = "It wobbles"
    assert page.send("tell", question="history.complaint", words=both, was=shown).status_code == 200
    assert (
        page.send("tell", question="history.overhaul", words="1991", was="1990").status_code == 200
    )
    history = saved(path).history
    assert history.complaint[0].words == "like a goose"
    assert history.complaint[0].came == "slowly"
    assert history.complaint[1].symptom == "wheels.stuck"
    assert [(o.year, o.how_far, o.subsystem) for o in history.overhaul] == [
        (1950, "working", ""),
        (1991, "full", "wheels"),
    ]


def test_what_cannot_be_is_refused_at_the_door(tmp_path: Path) -> None:
    path = new(tmp_path)
    before = path.read_text(encoding="utf-8")
    page = Page(path)
    for question, words in (
        ("history.overhaul", "3000"),
        ("owner.ceiling", "-5"),
        ("owner.ceiling", "1.500"),
        ("history.works", "splendidly"),
    ):
        assert page.send("tell", question=question, words=words).status_code == 422
    assert path.read_text(encoding="utf-8") == before


# --- what is shown


def test_nothing_on_the_question_screens_tells_grade_or_price(tmp_path: Path) -> None:
    path = new(tmp_path, '[answers.wheels]\nplay = "7 mm"\nbroken_spokes = 3\n')
    page = Page(path)
    shown = page.get("/visit").text.casefold()
    for word in ("grade", "usd", "price", "sure"):
        assert word not in shown
    craftsman = page.get("/craftsman").json
    assert craftsman
    assert craftsman["state"][0].startswith("Grade")
    assert "USD" in craftsman["recommendation"][0]


def test_the_page_gets_the_walk_of_the_terminal(tmp_path: Path) -> None:
    page = Page(new(tmp_path), agreed_min=60)
    shown = page.get("/visit").json
    assert shown
    visit = page.inbox.visit
    walk = visit.walk(visit.assessed())
    assert shown["next"] == list(walk.questions)
    assert [stop["id"] for stop in shown["stops"]] == [
        stop.id for stop in visit.whole_walk(visit.assessed()).stops
    ]
    assert set(shown["next"]) <= set(shown["questions"])
    assert shown["clock"]["agreed"] == 60


def test_nothing_seen_is_said_as_such(tmp_path: Path) -> None:
    craftsman = Page(new(tmp_path)).get("/craftsman").json
    assert craftsman
    assert craftsman["state"] == ["Nothing has been looked at yet"]


# --- listening


def test_it_listens_on_this_machine_alone(tmp_path: Path) -> None:
    served = listen(inbox(new(tmp_path)), phone=False, port=0)
    try:
        assert len(served.addresses) == 1
        assert served.addresses[0].startswith("http://127.0.0.1:")
    finally:
        served.close()


def test_a_port_that_is_taken_is_named(tmp_path: Path) -> None:
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = other.getsockname()[1]
        with pytest.raises(UserError, match=f"port {port} cannot be used.*--port"):
            listen(inbox(new(tmp_path)), phone=False, port=port)


def test_a_phone_needs_a_network(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(visit_server, "network_addresses", list)
    with pytest.raises(UserError, match="is in no network"):
        listen(inbox(new(tmp_path)), phone=True, port=0)


def test_a_phone_gets_the_address_of_the_network(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(visit_server, "network_addresses", lambda: ["127.0.0.2"])
    served = listen(inbox(new(tmp_path)), phone=True, port=0)
    try:
        assert served.addresses[0].startswith("http://127.0.0.2:")
        assert served.addresses[1].startswith("http://127.0.0.1:")
    finally:
        served.close()


def test_addresses_of_a_network_are_those_that_others_reach(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    found = ["127.0.1.1", "169.254.3.4", "0.0.0.0", "192.0.2.7"]
    monkeypatch.setattr(visit_server, "_of_interfaces", lambda: found)
    addresses = network_addresses()
    assert "192.0.2.7" in addresses
    assert not [a for a in addresses if a.startswith(("127.", "169.254.", "0."))]


def test_the_qr_code_is_drawn_for_a_terminal() -> None:
    lines = qr_code("http://192.0.2.7:8460/?key=00112233445566778899aabbccddeeff").splitlines()
    assert len(lines) > 15
    assert max(map(len, lines)) <= 80


@pytest.mark.parametrize("body", [b"[" * 100_000, b'{"a":' * 50_000, b"\xff", b"9" * 9000])
def test_a_body_that_is_no_entry_is_refused(tmp_path: Path, body: bytes) -> None:
    page = Page(new(tmp_path))
    headers = {"Origin": ORIGIN, "Content-Type": "application/json"}
    refused = page.client.post("/answer", base_url=ORIGIN, data=body, headers=headers)
    assert refused.status_code == 422
    assert refused.json["message"] == "not understood: expected one entry as JSON"
