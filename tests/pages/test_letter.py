"""The letter to the owner: what it answers, that its numbers are the engine's, and that it prints.

Readability is measured with the reading ease of R. Flesch, "A new readability yardstick", Journal
of Applied Psychology 32 (1948), 221-233: 206.835 - 0.846 wl - 1.015 sl, with wl the syllables
per 100 words and sl the words per sentence. There 70 to 80 is called fairly easy.
"""

from __future__ import annotations

import datetime as dt
import json
import math
import re
from dataclasses import replace
from functools import cache
from itertools import product
from pathlib import Path

import pytest
from browsers import launched
from conftest import ROOT, Run
from reading import Reader

import assess
from assess import WorkshopError, knowledge_in_use
from assess.assessment import Assessment
from assess.job.job_file import Identity, Owner
from assess.job.letter_profile import LetterProfile
from assess.job.workshop_profile import load_workshop
from assess.output.json_data import calendar_data, grades_data, verdict_data
from assess.pages.letter import Letter, letter_of, letter_page, letter_text, page_of

FIXTURES = sorted(p.stem for p in (ROOT / "fixtures").glob("*.toml"))
DAY = dt.date(2026, 11, 30)
FAIRLY_EASY = 70
"""Flesch's reading ease above which a text is fairly easy."""
GRADE = 6
"""The school grade, by the formula of Flesch and Kincaid, whose readers can read every letter."""
LONGEST = 45
"""Words of a sentence; the longest are lists of parts."""
ABSENT = {
    "suction_unit": "wind machine",
    "couplers": "coupler",
    "knee_levers": "knee lever",
    "tremulant": "tremulant",
    "swell": "swell",
    "second_manual": "second keyboard|between the keyboards",
    "pedalboard": "pedal",
    "sub_bass": "sub-bass",
    "celeste": "celeste",
    "high_top": "high top",
    "mirror": "glass|mirror",
    "lamp_stands": "lamp stand",
    "fretwork": "fretwork",
}
"""A feature, and the words that must not be in the letter where the job says it is absent."""
WORDS = knowledge_in_use().trade.letter


@cache
def result(fixture: str) -> Assessment:
    return assess.assess(assess.load(ROOT / "fixtures" / f"{fixture}.toml"))


@cache
def letter(fixture: str) -> Letter:
    return letter_of(result(fixture), DAY)


@cache
def page(fixture: str) -> str:
    return letter_page(result(fixture), DAY)


def with_owner(fixture: str, **changed: object) -> Assessment:
    """The assessment of a fixture whose owner differs."""
    job = result(fixture).job
    owner = job.owner.model_copy(update=changed)
    return assess.assess(job.model_copy(update={"owner": owner}))


def with_profile(fixture: str, folder: Path, text: str) -> Assessment:
    """The assessment of a fixture by a workshop with a profile of its own."""
    profile = folder / "workshop.toml"
    profile.write_text(text, encoding="utf-8")
    return assess.assess(result(fixture).job, workshop=load_workshop(profile))


def sentences(of: Letter) -> list[str]:
    """All prose of the letter; labels and prices left out."""
    prose = [
        of.opening, *of.looked, *of.told, *(s.found for s in of.state), of.in_order,
        of.meanwhile, *(o.gives for o in of.options), *(o.advice for o in of.options),
        *of.advice, of.allowed, *of.hidden, of.prices, *of.afterwards, of.stands,
        *of.household, of.keeping, of.closing,
    ]  # fmt: skip
    return [s for text in prose for s in re.split(r"(?<=[.!?])\s+", text) if s.strip()]


def syllables(word: str) -> int:
    """Syllables of an English word: groups of vowels, without a silent e; a number is one."""
    bare = word.lower().strip("'")
    groups = len(re.findall(r"[aeiouy]+", bare))
    silent = bare.endswith("e") and not bare.endswith(("le", "ee")) and groups > 1
    past = bare.endswith("ed") and not bare.endswith(("ted", "ded")) and groups > 1
    return max(1, groups - silent - past)


def lengths(prose: list[str]) -> tuple[float, float]:
    """Words to a sentence, and syllables to a word."""
    words = [w for s in prose for w in re.findall(r"[A-Za-z']+|\d[\d.,]*", s)]
    return len(words) / len(prose), sum(map(syllables, words)) / len(words)


def reading_ease(prose: list[str]) -> float:
    """Reading ease by Flesch: 100 is very easy, 0 very hard."""
    of_sentence, of_word = lengths(prose)
    return 206.835 - 1.015 * of_sentence - 84.6 * of_word


def grade(prose: list[str]) -> float:
    """School grade by Flesch and Kincaid."""
    of_sentence, of_word = lengths(prose)
    return 0.39 * of_sentence + 11.8 * of_word - 15.59


def test_reading_ease_and_grade_are_those_of_the_formulas() -> None:
    # 6 words of 6 syllables in one sentence; then 2 words of 8 syllables.
    assert reading_ease(["The cat sat on the mat."]) == pytest.approx(206.835 - 84.6 - 6.09)
    assert reading_ease(["Antiquated machinery."]) == pytest.approx(206.835 - 338.4 - 2.03)
    assert grade(["The cat sat on the mat."]) == pytest.approx(2.34 + 11.8 - 15.59)
    assert grade(["Antiquated machinery."]) == pytest.approx(0.78 + 47.2 - 15.59)


@pytest.mark.parametrize("fixture", FIXTURES)
def test_it_reads_easily(fixture: str) -> None:
    prose = sentences(letter(fixture))
    assert reading_ease(prose) >= FAIRLY_EASY
    assert grade(prose) <= GRADE
    assert max(len(s.split()) for s in prose) <= LONGEST
    for sentence in prose:
        assert sentence[0].isupper() or sentence[0].isdigit() or sentence[0] == "\u201c", sentence
        assert sentence.rstrip("\u201d")[-1] in ".!?:", sentence
        assert "{" not in sentence


@pytest.mark.parametrize("fixture", FIXTURES)
def test_it_answers_what_owners_ask(fixture: str) -> None:
    found, of = letter(fixture), result(fixture)
    verdict = of.verdict
    text = " ".join(letter_text(of, DAY).split())
    assert "no valuation" in text  # what is it worth
    priced = [o for o in found.options if re.search(r"\d", o.price)]
    assert priced  # how much to restore
    assert all(o.work for o in priced)
    assert found.advice[0] == getattr(WORDS.advice, verdict.name)  # is it worth it
    recommended = [o.name for o in found.options if o.recommended]
    assert len(recommended) == (verdict.name != "look_further")
    starts = ("Yes", "No.", "Better not:", "We have not seen", "It does not play")
    assert found.meanwhile.startswith(starts)  # can it be played now
    assert len(found.told) == len(of.complaints)  # why no sound, one side dead
    damp_or_mice = [
        f for f in of.graded.findings
        if any(c.endswith(("mould", "droppings")) for c in f.outcome.cautions)
    ]  # fmt: skip
    if damp_or_mice:  # is mould or mouse smell dangerous
        assert re.search(r"mould|Mice", " ".join(found.household))
    if any(c.endswith("ivory") for f in of.graded.findings for c in f.outcome.cautions):
        assert any("ivory" in line for line in found.household)  # can I sell the keys
    if verdict.name != "salvage":
        assert "40 and 60 %" in found.keeping  # how should I keep it
        assert "decades" in found.keeping  # how long will it last
    assert found.stands  # how long the offer stands
    if verdict.scope and verdict.name != "look_further":
        assert "over 10 %" in " ".join(found.afterwards) or "heard from you" in text
    assert "Owner: date, signature" in text


@pytest.mark.parametrize("fixture", FIXTURES)
def test_it_never_promises_values_or_certifies(fixture: str) -> None:
    text = Reader(page(fixture)).text
    assert not re.search(r"guarantee|warrant|certif|promise|we will|is safe\b|worth [A-Z]{3}", text)


def figures(text: str) -> set[str]:
    return set(re.findall(r"\d[\d,.]*\d|\d", text))


def known_figures(of: Assessment) -> set[str]:
    """Every figure that verdict, grades and calendar know, as a letter may write it."""
    data, grades = verdict_data(of), grades_data(of)
    spreads = [o["with_unseen"]["cost"] for o in data["options"]]
    hours = [o["with_unseen"]["hours"] for o in data["options"]]
    chances = [h["chance"] for h in data["hidden"]]
    chances += [o["with_unseen"]["within_limit"] or 0.0 for o in data["options"]]
    chances += [g["coverage"] for g in (grades["whole"], *grades["subsystems"])]
    chances += [data["probability"], 0.99, 0.01]
    amounts = [s[p] for s in spreads for p in ("p10", "p90")]
    amounts += [h["cost"] for h in data["hidden"]]
    amounts += [of.job.owner.ceiling or 0.0, of.job.owner.worth or 0.0]
    # The data are rounded, so a half may have been rounded either way.
    known = {f"{amount + nudge:,.0f}" for amount in amounts for nudge in (-5e-3, 5e-3)}
    known |= {f"{100 * (c + nudge):.0f}" for c in chances for nudge in (-5e-5, 5e-5)}
    exact = [h[p] + nudge for h in hours for p in ("p10", "p90") for nudge in (-5e-3, 5e-3)]
    known |= {f"{h:.0f}" for h in exact if h >= 9.94}
    known |= {f"{h:.1f}".removesuffix(".0") for h in exact}
    week = of.workshop.bench_hours_a_day * len(of.workshop.bench_days)
    for likely in of.verdict.likely:
        plan = of.plans[likely.scope]
        if plan.steps:
            put = of.planner.calendar(plan, DAY)
            finish, chain = of.planner.finish(plan, put), of.planner.longest_chain(plan, put)
            dated = calendar_data(of, plan, put, finish, chain)
            soon, late = (
                dt.date.fromisoformat((dated[f"back_{p}"] or dated[f"finish_{p}"])[:10])
                for p in ("p50", "p90")
            )
            more = max(0.0, likely.hours.p90 - plan.hours.p90) / week
            weeks = ((soon - DAY).days / 7, (late - DAY).days / 7 + more)
            known |= {str(max(1, math.ceil(w))) for w in weeks}
    return known


@pytest.mark.parametrize("fixture", FIXTURES)
def test_every_number_is_one_of_the_engine(fixture: str) -> None:
    found, of = letter(fixture), result(fixture)
    text = " ".join(
        [
            *(s.seen for s in found.state),
            *(f"{o.price} {o.work} {o.ready}" for o in found.options),
            *found.advice,
            *found.hidden,
        ]
    )
    assert figures(text)
    assert figures(text) <= known_figures(of)
    assert figures(found.looked[0]) <= known_figures(of) | figures(f"{of.job.date}") | {
        str(of.job.date and of.job.date.day)
    }
    assert figures(" ".join(found.afterwards)) <= {"10"}


@pytest.mark.parametrize("fixture", FIXTURES)
def test_the_recommended_price_is_that_of_the_verdict(fixture: str) -> None:
    of = result(fixture)
    likely = next((k for k in of.verdict.likely if k.scope == of.verdict.scope), None)
    if likely is None or of.verdict.name == "look_further":
        return
    price = next(o.price for o in letter(fixture).options if o.recommended)
    assert f"{likely.cost.p90:,.0f}" in price


@pytest.mark.parametrize("fixture", FIXTURES)
def test_it_names_nothing_that_the_job_says_is_absent(fixture: str) -> None:
    features = result(fixture).job.instrument.features
    text = " ".join([*sentences(letter(fixture)), *(s.name for s in letter(fixture).state)])
    assert ABSENT
    for feature, words in ABSENT.items():
        if features.get(feature) is False:
            assert not re.search(words, text, re.IGNORECASE), feature
    if features.get("wind") == "pressure":
        assert "suction" not in text


@pytest.mark.parametrize("fixture", FIXTURES)
def test_every_danger_that_was_found_is_told_to_the_household(fixture: str) -> None:
    of = result(fixture)
    raised = {c for f in of.graded.findings if f.outcome.danger for c in f.outcome.cautions}
    titles = {of.knowledge.cautions[c].title for c in raised}
    told = {
        of.knowledge.cautions[c].title
        for c, words in WORDS.household.items()
        if words in letter(fixture).household
    }
    assert titles <= told
    assert bool(raised) == letter(fixture).meanwhile.startswith("No. Please do not play")


@pytest.mark.parametrize("fixture", FIXTURES)
def test_the_page_is_whole_and_loads_nothing(fixture: str) -> None:
    tree = Reader(page(fixture))
    assert "script" not in tree.tags
    assert not [a for _, a in tree.started if {"src", "href"} & a.keys()]
    assert tree.policy == "default-src 'none'; style-src 'unsafe-inline'"
    assert tree.levels[0] == 1
    assert set(tree.levels[1:]) == {2}
    assert all(a.get("scope") in ("row", "col") for t, a in tree.started if t == "th")
    assert page(fixture) == letter_page(result(fixture), DAY)


@pytest.mark.parametrize("fixture", FIXTURES)
def test_the_text_for_a_mail_says_the_same(fixture: str) -> None:
    text = letter_text(result(fixture), DAY)
    assert max(map(len, text.splitlines())) <= 80
    flat = " ".join(text.split())
    for sentence in sentences(letter(fixture)):
        assert " ".join(sentence.split()) in flat, sentence


HOSTILE = "<script>alert('x')</script> \"&{{ 7*7 }} {because}"


def test_what_people_write_stays_text() -> None:
    job = result("one_strap").job
    complaint = job.history.complaint[0].model_copy(update={"words": HOSTILE})
    history = job.history.model_copy(update={"complaint": (complaint,)})
    owner = Owner(name=HOSTILE, address=(HOSTILE,), salutation=HOSTILE)
    job = job.model_copy(update={"owner": owner, "history": history, "title": HOSTILE})
    tree = Reader(letter_page(assess.assess(job), DAY))
    assert "script" not in tree.tags
    assert tree.text.count(HOSTILE) >= 4


def test_it_goes_to_the_owner_of_the_job_file() -> None:
    found = letter_of(
        with_owner("one_strap", name="A. Example", address=("1 Long Lane", "Town")), DAY
    )
    assert found.addressee == ("A. Example", "1 Long Lane", "Town")
    assert found.salutation == "Dear A. Example,"
    assert letter_of(with_owner("one_strap", salutation="Good day,"), DAY).salutation == "Good day,"


FORMS = {
    "english": ("D MONTH YYYY", ".", ",", "CURRENCY AMOUNT", "30 March 2027", "EUR\u00a0{},{}"),
    "german": ("DD.MM.YYYY", ",", ".", "AMOUNT CURRENCY", "30.03.2027", "{}.{}"),
    "french": ("DD/MM/YYYY", ",", " ", "AMOUNT CURRENCY", "30/03/2027", "{}\u00a0{}"),
    "dutch": ("DD-MM-YYYY", ",", ".", "CURRENCY AMOUNT", "30-03-2027", "EUR\u00a0{}.{}"),
}


@pytest.mark.parametrize("name", FORMS)
def test_dates_and_numbers_take_the_form_of_the_workshop(name: str, tmp_path: Path) -> None:
    date_format, decimal, thousands, money, stands, amount = FORMS[name]
    of = with_profile(
        "neglected",
        tmp_path,
        f'currency = "EUR"\n[letter]\ndate_format = "{date_format}"\ndecimal = "{decimal}"\n'
        f'thousands = "{thousands}"\nmoney_format = "{money}"\n',
    )
    found = letter_of(of, DAY)
    assert stands in found.stands
    price = next(o.price for o in found.options if o.recommended)
    likely = next(k for k in of.verdict.likely if k.scope == of.verdict.scope)
    low = f"{likely.cost.p10:.0f}"
    assert amount.format(low[:-3], low[-3:]) in price
    assert price.startswith("EUR") == money.startswith("CURRENCY")
    assert price.endswith("EUR") == money.endswith("CURRENCY")


def test_months_and_marks_are_data() -> None:
    profile = load_workshop().letter
    months = ("januari", *profile.months[1:])
    dutch = profile.model_copy(update={"months": months, "decimal": ",", "thousands": "."})
    assert dutch.date(dt.date(2027, 1, 9)) == "9 januari 2027"
    assert dutch.number("1.3 to 2,975 hours, see 3. and 4,") == "1,3 to 2.975 hours, see 3. and 4,"


def test_sender_sentences_and_terms_are_the_workshops(tmp_path: Path) -> None:
    of = with_profile(
        "one_strap",
        tmp_path,
        '[letter]\nsender = ["The Workshop", "Yard 2"]\nopening = "Hello."\nclosing = "Bye."\n'
        'sign_off = "Warmly"\nvalid_days = 10\nprice_change_percent = 12.5\npaper = "Letter"\n',
    )
    found = letter_of(of, DAY)
    assert (found.opening, found.closing, found.sign_off) == ("Hello.", "Bye.", "Warmly")
    assert found.signed == found.sender[0] == "The Workshop"
    assert "10 December 2026" in found.stands
    assert "over 12.5 %" in " ".join(found.afterwards)
    assert "size: Letter" in letter_page(of, DAY)


WRONG = {
    'date_format = "D MONTH"': "date_format needs a day, a month and YYYY",
    'money_format = "AMOUNT"': "money_format needs both words",
    'decimal = ","': "decimal and thousands must differ",
    'paper = "A5"': "paper",
    "valid_days = 0": "valid_days",
    'sendr = ["x"]': 'did you mean "sender"',
    'months = ["January"]': "months",
}


@pytest.mark.parametrize("line", WRONG)
def test_a_mistake_in_the_profile_is_named(line: str, tmp_path: Path) -> None:
    profile = tmp_path / "workshop.toml"
    profile.write_text(f"[letter]\n{line}\n", encoding="utf-8")
    with pytest.raises(WorkshopError, match=re.escape(WRONG[line])) as caught:
        load_workshop(profile)
    assert str(profile) in str(caught.value)


def test_the_profile_knows_no_other_defaults_than_its_file() -> None:
    required = {n for n, f in LetterProfile.model_fields.items() if f.is_required()}
    assert {"sign_off", "valid_days", "paper", "decimal", "thousands"} <= required


def test_a_complaint_is_answered_with_its_cause() -> None:
    assert letter("one_strap").told == (
        "You told us: \u201cone treadle went dead in the middle of a hymn\u201d. The cause: "
        "a strap between treadle and bellows is broken or off.",
    )


def test_every_cause_that_was_found_is_named() -> None:
    assert (
        "The cause: a liquid that sticks has run in between the keys, and a few push rods"
        in (letter("spilt_drink").told[0])
    )


def test_insects_that_were_only_thought_of_do_not_alarm_the_household() -> None:
    worm = WORDS.household["casework.woodworm_treatment"]
    assert worm not in letter("spilt_drink").household
    assert worm in letter("neglected").household


def test_a_part_of_several_units_says_which() -> None:
    found = letter("two_manuals_and_pedal")
    looked, hidden = " ".join(found.looked), " ".join(found.hidden)
    assert "the wind chest (main unit) and the wind chest (pedal unit)" in looked
    assert "under the keys (pedal unit)" in hidden
    assert "the boards of the bellows, the swell shutters, the stops" in found.in_order
    assert "the celeste and" in " ".join(letter("upper_unit").looked)  # one unit has it
    assert "unit)" not in " ".join(sentences(letter("neglected")))


def test_nothing_that_was_sampled_is_called_certain() -> None:
    for fixture in FIXTURES:
        text = " ".join([*letter(fixture).advice, *letter(fixture).hidden])
        assert not re.search(r"(?<!over )\b100 %|(?<![\d.,])0 %", text), fixture
    assert "is over 99 %" in " ".join(letter("double_expression").advice)


def test_more_hidden_work_than_seen_makes_a_range_of_weeks() -> None:
    ready = {o.name: o.ready for o in letter("upper_unit").options}
    assert ready[WORDS.ways.working.title] == "about 1 to 3 weeks"
    small = next(o for o in letter("one_strap").options if o.recommended)
    assert small.ready in ("about 1 week", "about 1 to 2 weeks")
    assert "longer time" in letter("upper_unit").prices


def test_what_is_known_of_its_origin_stands_in_the_letter() -> None:
    job = result("one_strap").job
    known = Identity(maker=HOSTILE, serial=4711, year=1890)
    instrument = job.instrument.model_copy(update={"identity": known})
    of = assess.assess(job.model_copy(update={"instrument": instrument}))
    said = f"What we know of its origin: maker {HOSTILE}, number 4711, year 1890."
    assert said in letter_of(of, DAY).looked
    assert said in Reader(letter_page(of, DAY)).text
    assert "origin" not in " ".join(letter("one_strap").looked)


ANSWERS = {
    "neglected": "danger",
    "flooded": "danger",
    "early_unaltered": "evidence",
    "ribbed_two_manual": "harm",
    "barely_inspected": "unknown",
    "one_strap": "gently",
    "sound_organ": "freely",
}


@pytest.mark.parametrize("fixture", ANSWERS)
def test_whether_it_may_be_played_meanwhile(fixture: str) -> None:
    use = result(fixture).interim_use
    assert use.answer == ANSWERS[fixture]
    assert use.allowed == (ANSWERS[fixture] in ("gently", "freely"))


def test_what_does_not_play_is_not_forced() -> None:
    job = result("sound_organ").job
    history = job.history.model_copy(update={"works": "not at all"})
    assert assess.assess(job.model_copy(update={"history": history})).interim_use.answer == (
        "stopped"
    )


@pytest.mark.parametrize("criterion", WORDS.findings)
def test_words_of_findings_fit_the_declared_outcomes(criterion: str) -> None:
    words, declared = WORDS.findings[criterion], knowledge_in_use().criteria[criterion]
    labels = {o.label for o in declared.outcomes}
    assert set(words.outcomes) <= labels
    classes = {o.condition for o in declared.outcomes if o.label not in words.outcomes}
    for condition, clause in enumerate(words.says, 1):
        assert not clause or condition in classes, condition
        assert not clause.endswith(".")


def test_words_name_what_is_declared() -> None:
    knowledge = knowledge_in_use()
    assert set(WORDS.parts) == {c.component for c in knowledge.criteria.values()}
    assert set(WORDS.subsystems) == set(knowledge.subsystems)
    assert set(WORDS.household) <= set(knowledge.cautions)
    for criterion, cautions in WORDS.bench_cautions.items():
        raised = {c for o in knowledge.criteria[criterion].outcomes for c in o.cautions}
        assert set(cautions) <= raised
    named = {c for harm in knowledge.trade.use_harms for c in harm.findings}
    assert named <= set(knowledge.criteria)
    dangers = {
        knowledge.cautions[caution].title
        for criterion in knowledge.criteria.values()
        for outcome in criterion.outcomes
        if outcome.danger
        for caution in outcome.cautions
    }
    assert dangers <= {knowledge.cautions[c].title for c in WORDS.household}


def test_what_is_asked_as_a_question_has_a_noun_for_the_owner() -> None:
    asked = {c.id for c in knowledge_in_use().criteria.values() if c.asks.endswith("?")}
    assert asked
    assert asked <= {criterion for criterion, words in WORDS.findings.items() if words.about}


def test_the_command_writes_a_page_or_prints_text(run: Run, tmp_path: Path) -> None:
    job = ROOT / "fixtures" / "one_strap.toml"
    done = run("letter", job, "-o", "letter.html", "--date", "2026-11-30")
    assert (done.returncode, done.stdout) == (0, "Wrote letter.html.\n")
    assert (tmp_path / "letter.html").read_text(encoding="utf-8") == page("one_strap")
    done = run("letter", job, "--text", "--date", "2026-11-30")
    assert (done.returncode, done.stdout) == (0, letter_text(result("one_strap"), DAY))
    done = run("letter", job)
    assert done.returncode == 2
    assert "-o FILE.html" in done.stderr


def names_of_ways(found: Letter) -> list[str]:
    return [option.name for option in found.options]


NEEDLESS = {WORDS.ways.conserve.title, WORDS.ways.pass_on.title}


@pytest.mark.parametrize("fixture", FIXTURES)
def test_ways_are_left_out_with_the_reason_where_nobody_would_choose_them(fixture: str) -> None:
    found, of = letter(fixture), result(fixture)
    names = set(names_of_ways(found))
    as_asked = of.verdict.name == of.job.owner.wish
    if as_asked and of.interim_use.allowed:
        assert not NEEDLESS & names
        assert found.left_out == WORDS.left_out
        assert WORDS.left_out in " ".join(letter_text(of, DAY).split())
        assert WORDS.left_out in Reader(page(fixture)).text
    else:
        assert WORDS.ways.conserve.title in names
        assert found.left_out == ""


def test_who_is_ready_to_let_it_go_or_asks_for_less_sees_every_way() -> None:
    assert not NEEDLESS & set(names_of_ways(letter("one_strap")))
    for changed in ({"keeps": False}, {"wish": "stabilise"}, {"wish": None}):
        found = letter_of(with_owner("one_strap", **changed), DAY)
        assert set(names_of_ways(found)) >= NEEDLESS
        assert found.left_out == ""


def test_what_cannot_be_repaired_is_not_passed_on() -> None:
    assert result("flooded").verdict.name == "salvage"
    assert WORDS.ways.salvage.title in names_of_ways(letter("flooded"))
    assert WORDS.ways.pass_on.title not in names_of_ways(letter("flooded"))


def test_without_bench_hours_there_are_prices_and_no_weeks(tmp_path: Path) -> None:
    found = letter_of(with_profile("one_strap", tmp_path, "bench_hours_a_day = 0\n"), DAY)
    assert {o.ready for o in found.options} == {""}
    assert any("USD" in o.price for o in found.options)
    assert "Weeks" not in found.prices


def test_an_empty_job_gets_an_honest_letter(tmp_path: Path) -> None:
    job = tmp_path / "job.toml"
    job.write_text("format = 1\n", encoding="utf-8")
    found = letter_of(assess.assess(assess.load(job)), DAY)
    assert found.looked == ("Nothing has been looked at yet.",)
    assert {s.condition for s in found.state} == {"not looked at yet"}
    assert found.meanwhile == WORDS.meanwhile.unknown
    assert "no offer" in found.stands
    assert "unlikely to change" not in " ".join(found.advice)


PRINTED = {"neglected": 2, "one_strap": 1, "ribbed_two_manual": 2, "weekly_use": 1}
"""On how many pages a letter stands, from a small job to a large one."""
SENDER = ("The Workshop", "Yard 2", "Town", "Telephone 123")
ADDRESSEE = ("A. Example", "1 Long Lane", "Village", "Town")


def test_a_small_job_prints_on_one_page_and_a_large_one_on_two_and_nothing_is_asked(
    tmp_path: Path,
) -> None:
    asked: list[str] = []
    file = tmp_path / "letter.html"
    with launched() as browser:
        tab = browser.new_page(viewport={"width": 360, "height": 800})
        tab.on("request", lambda request: asked.append(request.url))
        for fixture, paper in product(PRINTED, ("A4", "Letter")):
            found = replace(
                letter(fixture), paper=paper, sender=SENDER, addressee=ADDRESSEE, signed=SENDER[0]
            )
            file.write_text(page_of(found), encoding="utf-8")
            tab.goto(file.as_uri())
            assert tab.evaluate("document.documentElement.scrollWidth") <= 360, fixture
            printed = tab.pdf(prefer_css_page_size=True)
            assert len(re.findall(rb"/Type\s*/Page\b(?!s)", printed)) == PRINTED[fixture], fixture
    assert set(asked) == {file.as_uri()}


def test_schemas_know_the_letter() -> None:
    for name, key in (("workshop", "letter"), ("job", "salutation")):
        text = (ROOT / "assess/output/json_schemas" / f"{name}.json").read_text(encoding="utf-8")
        assert key in json.dumps(json.loads(text))
