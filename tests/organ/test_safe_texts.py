"""No text tells anyone to do what can hurt them, and each danger says whom to ask.

Every text of every plugin is read, and every plan of every fixture as it is printed with
``--how --why``. The rules are common practice in workshops: nothing from an old instrument is
burnt (wood may hold lead, arsenic or insecticide), dust is taken up with a filter and wiped damp,
old finish is not sanded dry, and the mains are the work of a licensed electrician.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
from pydantic import BaseModel
from seen import FILES, assessed

import assess
from assess.knowledge.model_base import SCOPES, Scope
from assess.knowledge.work import Caution, Work
from assess.output.layout import sections
from assess.output.plans import plan_text
from assess.output.verdicts import verdict_parts

KNOWLEDGE = assess.knowledge_in_use()
FIXTURES = sorted(name for name, path in FILES.items() if path.parent.name == "fixtures")

DRY = r"\bsweep(?:ing)?\b|\bdry[- ]sweep|\bbrush (?:it |them |dust |dirt )?dry\b|\bdry brush\b"
SCATTER = r"\bsiev(?:e|ing)\b|\bbeat(?:ing)? (?:out|the dust)|\bshake it out\b"
CONNECT = (
    r"\b(?:splice|solder|replace|renew|strip|join|cut) (?:the |a |an )?(?:old )?"
    r"(?:flex|wiring|mains|fuse|wire)\b"
)
SWITCH = r"\bswitch(?:es)? (?:it |the unit |the blower |anything )?on\b"
WHAT_HURTS = {
    "burn": r"\bburn(?:s|ing|t)?\b|\bset fire\b|\bin(?:to)? the stove\b",
    "sweep dry": f"{DRY}|{SCATTER}",
    "blow out": r"\bblow(?:ing)? (?:out|away|off|through|(?:the )?(?:dirt|dust))\b"
    r"|\bcompressed air\b|\bair (?:gun|line)\b",
    "sand": r"\bsand(?:ing|ed)?\b|\bsandpaper\b",
    "open flame": r"\bflames?\b|\bsmoke\b|\bblowtorch\b|\bheat gun\b",
    "work on the mains": f"{CONNECT}|{SWITCH}",
    "use the mouth": r"\bsuck (?:through|at|on) it\b|\bblow (?:through|into) (?:it|the reed)\b",
    "acid": r"\bacid flux\b|\bdrip(?:ping)? acid\b",
}
FORBIDS = r"\b(?:no|not|never|nobody)\b|\bkeep\b.*\baway\b"
"""Words with which a sentence forbids what it names."""
QUALIFIED = r"\blicensed electrician\b"
"""Whoever must have been there first, where the mains are concerned."""
ALLOWED = {
    "celluloid burns": "the title of a caution",
    "it burns less fiercely": "a caution: a plastic",
    "burns with an invisible flame": "a caution: methanol",
    "its fumes burn eyes and lungs": "a caution: flux",
    "one motor that burnt out": "a caution: the mains",
    "cracked or burnt": "what a key covering may look like",
    "soot and burnt finish": "a caution: what has been in a fire",
    "key sides sanded bare": "what earlier work may look like",
    "recommend carbon disulphide": "a caution: old recipes",
    "advise dripping acid": "a caution: old recipes",
}
"""Sentences that name such a thing without telling to do it, and what they are about."""


def sentences(text: str) -> Iterator[str]:
    """The sentences of a text, white space made even."""
    yield from re.split(r"(?<=[.;!?])\s+", " ".join(text.split()))


def unsafe(text: str) -> list[str]:
    """Sentences that tell to do what hurts, with the rule that they break."""
    return [
        f"{rule}: {sentence}"
        for sentence in sentences(text)
        for rule, pattern in WHAT_HURTS.items()
        if re.search(pattern, sentence, re.I) and not is_excused(sentence)
    ]


def is_excused(sentence: str) -> bool:
    """Whether a sentence forbids what it names, or is known to be harmless."""
    known = any(words.casefold() in sentence.casefold() for words in ALLOWED)
    return known or bool(re.search(f"{FORBIDS}|{QUALIFIED}", sentence, re.I))


def texts(thing: BaseModel, at: str) -> Iterator[tuple[str, str]]:
    """Every text in declared knowledge, with the keys that lead to it."""
    for name in type(thing).model_fields:
        yield from _within(getattr(thing, name), f"{at}.{name}")


def _within(value: object, at: str) -> Iterator[tuple[str, str]]:
    if isinstance(value, BaseModel):
        yield from texts(value, at)
    elif isinstance(value, str):
        yield at, value
    elif isinstance(value, dict):
        for key, inner in value.items():
            yield from _within(inner, f"{at}.{key}")
    elif isinstance(value, tuple):
        for number, inner in enumerate(value):
            yield from _within(inner, f"{at}[{number}]")


def declared() -> Iterator[tuple[str, str]]:
    """All texts of all plugins, except titles of sources and words of former versions."""
    tables: list[dict[str, BaseModel]] = [
        value
        for name in ("components", "places", "criteria", "repairs", "hold_points", "cautions",
                     "materials", "stages", "features", "facts", "symptoms", "requirements")
        if (value := getattr(KNOWLEDGE, name))
    ]  # fmt: skip
    for table in tables:
        for identifier, thing in table.items():
            for at, text in texts(thing, identifier):
                if ".formerly" not in at and not at.endswith((".source", ".id", ".step")):
                    yield at, text


DECLARED = list(declared())
INSTRUCTIONS = [
    (at, text) for at, text in DECLARED if not at.endswith((".avoid", ".answer", ".says"))
]
"""What is told to be done, and not what is to be avoided or may be found."""


def test_there_are_texts_to_read() -> None:
    assert len(DECLARED) > 4000
    assert sum(at.endswith(".avoid") for at, _ in DECLARED) > 150
    assert len(FIXTURES) >= 9


@pytest.mark.parametrize(
    "sentence",
    [
        "Take out and burn what crumbles.",
        "Brush it dry first.",
        "Before you throw the dust away, sieve it for screws.",
        "Blow out the dirt with an air line.",
        "Sand the old varnish down to the wood.",
        "Draw a thread of smoke along every place.",
        "Switch the unit on to try it.",
        "Replace the flex with a new one.",
        "Solder it with acid flux.",
    ],
)
def test_the_rules_see_what_hurts(sentence: str) -> None:
    assert unsafe(sentence)


@pytest.mark.parametrize(
    "sentence",
    [
        "Never sweep dry.",
        "Do not burn it.",
        "Nobody switches it on to try it.",
        "Rub it with a felt.",
    ],
)
def test_the_rules_let_warnings_pass(sentence: str) -> None:
    assert not unsafe(sentence)


def test_no_text_of_any_plugin_tells_to_do_what_hurts() -> None:
    found = [f"{at}: {said}" for at, text in INSTRUCTIONS for said in unsafe(text)]
    assert found == []


def test_nothing_that_protects_is_to_be_avoided() -> None:
    protects = (
        r"\b(?:masks?|gloves|goggles|electrician|conservator|air(?:ing)? the room|data sheet)\b"
    )
    wrong = [
        f"{at}: {text}"
        for at, text in DECLARED
        if at.endswith(".avoid") and re.search(protects, text) and "without" not in text
    ]
    assert wrong == []


# Plans as they are printed


def printed(fixture: str, scope: Scope) -> str:
    result = assessed(fixture)
    return plan_text(result, result.plans[scope], how=True, why=True)


def cells(text: str) -> Iterator[str]:
    """The second column of each table, lines of one step joined, and all other paragraphs."""
    lines = text.splitlines()
    column: slice | None = None
    for number, line in enumerate(lines):
        rule = re.fullmatch(r"(-+)  (-+)(?:  -+)*", line)
        if rule and number:
            column = slice(rule.start(2), rule.end(2))
        elif not line.strip():
            column = None
            yield "\n"
        else:
            yield (line if column is None else line[column]).strip()


@pytest.mark.parametrize("scope", SCOPES)
@pytest.mark.parametrize("fixture", FIXTURES)
def test_no_printed_plan_tells_to_do_what_hurts(fixture: str, scope: Scope) -> None:
    text = " ".join(cells(printed(fixture, scope)))
    said = re.split(r"(?=Avoid: )|(?=Done when: )|(?=If it fails: )|(?=After \d+: )", text)
    told = [part for part in said if not part.startswith("Avoid: ")]
    assert [found for part in told for found in unsafe(part)] == []


@pytest.mark.parametrize("scope", SCOPES)
@pytest.mark.parametrize("fixture", FIXTURES)
def test_each_number_of_care_is_explained_with_whom_to_ask(fixture: str, scope: Scope) -> None:
    result = assessed(fixture)
    plan = result.plans[scope]
    raised = {KNOWLEDGE.cautions[c].title for c in plan.cautions}
    text = printed(fixture, scope)
    _, _, care = text.partition("Take care\n")
    entries = re.split(r"\n\s*\d+\. ", "\n" + care.partition("\n")[2])[1:]
    assert len(entries) == len(raised)
    for entry in (" ".join(e.split()) for e in entries):
        assert "Ask: " in entry or "Follow: " in entry
        assert any(entry.startswith(title) for title in raised), entry


def test_cautions_are_those_of_the_plan_at_hand() -> None:
    """A plan that only stabilises does not warn of what only a full one meets."""
    plans = assessed("ribbed_two_manual").plans
    for scope in SCOPES:
        steps = {c for step in plans[scope].steps for c in step.cautions}
        assert set(plans[scope].cautions) == steps
    assert set(plans["stabilise"].cautions) < set(plans["full"].cautions)


@pytest.mark.parametrize("fixture", FIXTURES)
def test_dust_is_said_once_in_each_stage(fixture: str) -> None:
    result = assessed(fixture)
    plan = result.plans["full"]
    if not plan.steps:
        return
    _, _, care = plan_text(result, plan).partition("Take care\n")
    dust = re.search(r"^\s*(\d+)\. Old dust\.", care, re.M)
    if dust is None:
        return
    body = plan_text(result, plan).partition("Take care\n")[0]
    shown: list[int] = []
    for stage in re.split(r"\n\n(?=\S)", body):
        steps = [line for line in stage.splitlines() if re.match(r"\s*\d+  ", line)]
        shown.append(sum(_in_care(line, dust[1]) for line in steps))
        assert shown[-1] <= 1, stage
    assert sum(shown) >= 1


def _in_care(line: str, number: str) -> bool:
    """Whether a caution's number stands in the last column of a line."""
    last = re.split(r"\s{2,}", line.strip())[-1]
    return number in re.findall(r"\d+", last) if re.fullmatch(r"[\d, ]+", last) else False


@pytest.mark.parametrize("fixture", FIXTURES)
def test_a_verdict_names_the_cautions_of_its_scope_and_of_dangers_found(fixture: str) -> None:
    result = assessed(fixture)
    scope = result.verdict.scope
    expected = set(result.plans[scope].cautions) if scope else set()
    for finding in result.graded.findings:
        expected |= set(finding.outcome.cautions) if finding.outcome.danger else set()
    _, _, care = sections(verdict_parts(result)).partition("Take care\n")
    titles = re.findall(r"^- (.*)$", care.partition("\nIn full")[0], re.M)
    assert set(titles) == {KNOWLEDGE.cautions[c].title for c in expected}


# Which plastic, and what the back of a mirror is


def test_vinegar_is_acetate_and_camphor_is_nitrate() -> None:
    smell = KNOWLEDGE.criteria["casework.smell"]
    said = {o.label: o for o in smell.outcomes}
    assert "cellulose acetate" in said["vinegar"].means
    assert "cellulose nitrate" in said["camphor, or sharp and acid"].means
    for outcome in (said["vinegar"], said["camphor, or sharp and acid"]):
        assert outcome.cautions == ("casework.celluloid",)
    former = smell.outcome_in_words("vinegar or camphor")
    assert former is said["camphor, or sharp and acid"]
    for caution in ("action.celluloid", "casework.celluloid"):
        text = KNOWLEDGE.cautions[caution].text
        assert "vinegar comes from cellulose acetate" in text
        assert "A smell of camphor, or a sharp, acid one, means that it is decaying" in text


def test_old_mirrors_hold_mercury_or_silver_not_lead() -> None:
    assert "tin and mercury, or silver" in KNOWLEDGE.cautions["casework.old_glass"].text
    leads = [c for c in KNOWLEDGE.cautions.values() if c.title.startswith("Lead in")]
    assert len(leads) == 4
    assert not any("mirror" in f"{c.title} {c.text}" for c in leads)


# Each danger defers


DANGERS = {
    "mains": (r"\bmains\b|\bwiring\b|\bflex\b", "electrician"),
    "arsenic": (r"\barsenic\b", "hygienist|laboratory|waste authority"),
    "lead": (r"\blead (?:in|weights|paint)|lead until", "certified for lead"),
    "asbestos": (r"\basbestos\b", "accredited asbestos surveyor"),
    "mould": (r"\bmould\b", "conservator|doctor"),
    "insecticide": (r"\binsecticide\b", "waste authority"),
    "woodworm": (r"\bwoodworm\b", "pest controller|conservator"),
    "celluloid": (r"\bold celluloid\b", "fire service"),
    "springs": (r"\breservoir spring\b", "taken out such springs"),
    "lifting": (r"\bstraps\b.*\bkg\b|\bkg\b.*\bstairs\b", "mover"),
    "mercury": (r"\bmercury\b", "laboratory|waste service"),
}


def about(pattern: str) -> list[Caution]:
    """Cautions whose title or text names a danger."""
    return [
        c for c in KNOWLEDGE.cautions.values() if re.search(pattern, f"{c.title} {c.text}", re.I)
    ]


@pytest.mark.parametrize("danger", DANGERS)
def test_each_danger_defers_to_whom_it_concerns(danger: str) -> None:
    pattern, whom = DANGERS[danger]
    found = about(pattern)
    assert found
    assert all(c.people and (c.defer_to or c.follow) for c in found)
    assert any(re.search(whom, c.defer_to) for c in found)


WORK_WITH = {
    "mains": (r"\bmains\b|\belectrician|\bflex\b|\belectric light\b", {"mains", "old_wiring"}),
    "lead": (r"\blead until\b|\bflakes? of paint\b|\bsolder\b", {"lead", "lead_paint"}),
    "soldering": (r"\bsolder it\b", {"soldering"}),
    "springs": (r"\bunload\b.*\bspring|\bunload the springs\b", {"springs_under_load"}),
    "celluloid": (r"\bcelluloid\b", {"celluloid"}),
    "rust remover": (r"\brust bath\b", {"rust_remover"}),
    "worm-eaten waste": (
        r"\bbag (?:what is worm-eaten|what crumbles|the rest|what cannot be saved)\b",
        {"wood_waste"},
    ),
    "droppings": (r"\bdroppings\b", {"droppings"}),
}
"""Danger -> the words by which an instruction is about it, and the cautions that it must raise."""


def works() -> list[Work]:
    return [*KNOWLEDGE.repairs.values(), *KNOWLEDGE.hold_points.values()]


@pytest.mark.parametrize("danger", WORK_WITH)
def test_work_that_meets_a_danger_raises_its_caution(danger: str) -> None:
    pattern, cautions = WORK_WITH[danger]
    meeting = [
        work
        for work in works()
        if re.search(pattern, f"{work.title} {work.how} {getattr(work, 'if_fails', '')}", re.I)
    ]
    assert meeting
    silent = [w.id for w in meeting if not cautions & {c.partition(".")[2] for c in w.cautions}]
    assert silent == []
