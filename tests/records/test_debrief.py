import base64
import re
from html.parser import HTMLParser
from itertools import pairwise

import pytest

from readback.judging.check import check
from readback.judging.model import Status
from readback.measure.rates import load_measured
from readback.records.audio import decode_flac
from readback.records.debrief import marked_words, render_debrief
from readback.records.describing import describe_rate
from readback.records.model import CorrectionKind
from readback.records.picture import STRIP_S, draw_timeline
from readback.records.practice import plan_practice
from readback.records.ramp import ramp_history
from readback.records.training import what_drills_train
from readback.records.trust import measure_trust
from tests.records.conftest import CROSS, CROSSED_RIGHT, HOLD, tone

HOSTILE = '<script>alert("x")</script>&amp;\u202e\x1b[31m</title>'
VOID = {"meta", "br", "line", "rect", "circle", "polygon", "link", "img"}


@pytest.fixture
def where(tmp_path) -> str:
    """What reads no database needs only one kind."""
    return str(tmp_path / "records.sqlite3")


class Page(HTMLParser):
    """The page's tags in order, its text, and whether every tag is closed where it must be."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.text = ""
        self._open: list[str] = []
        self.feed(html)
        self.close()
        assert self._open == []

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self._open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag):
        assert self._open.pop() == tag

    def handle_data(self, data):
        self.text += data

    def all(self, name) -> list[dict[str, str | None]]:
        return [attributes for tag, attributes in self.tags if tag == name]


@pytest.fixture
def report(store, keep_session):
    def make(**changed) -> str:
        session = store.load(keep_session(**changed))
        plan = plan_practice([session], store.today)
        trust = measure_trust([session]).get("pocketsphinx")
        return render_debrief(session, audio=store.audio, practice=plan, trust=trust)

    return make


def test_the_report_tells_who_what_when_and_what_went_wrong(report):
    page = Page(report())

    for text in (
        "Tam Oakley",
        "Recurrent headset training",
        "Bluefin Ground Training",
        "2026-03-02",
        "1 of 2 correct (50%), not passed",
        "Watch the sides.",
        "pocketsphinx",
        "A runway crossing is always read back",
        "ICAO Doc 4444",
        "not for operational use",
        "Words corrected: 0 of 4",
    ):
        assert text in page.text


def test_sound_is_in_the_file_with_its_size(report):
    page = Page(report())

    players = page.all("audio")
    assert len(players) == 4
    kept = base64.b64decode(players[0]["src"].removeprefix("data:audio/flac;base64,"))
    assert kept == tone()
    assert "KiB" in players[0]["aria-label"]
    assert f"sound, {len(tone()) / 1024:.0f} KiB" in page.text


def test_without_consent_the_report_has_no_sound(report):
    page = Page(report(consent=False))

    assert page.all("audio") == []
    assert "no sound kept" in page.text


def test_nothing_is_loaded_and_nothing_runs(report):
    html = report()
    page = Page(html)

    assert page.all("script") == page.all("link") == page.all("img") == page.all("iframe") == []
    links = [value for _, attributes in page.tags for name, value in attributes.items()
             if name in ("src", "href", "data", "xlink:href")]  # fmt: skip
    assert links
    assert all(link.startswith(("#", "data:audio/flac;base64,")) for link in links)
    assert "url(" not in html
    assert "@import" not in html


def test_text_from_outside_is_escaped_everywhere(store, keep_session):
    names = ("organisation", "training", "instructor", "trainee", "group", "drill", "engine")
    session_id = keep_session(
        texts=((HOLD, HOSTILE), (f"{HOSTILE} hold short", "x")),
        topics=(HOSTILE,),
        settings={"noise": HOSTILE},
        **dict.fromkeys(names, HOSTILE),
    )
    session = store.correct(session_id, CorrectionKind.WORDS, 2, HOSTILE, by=HOSTILE, why=HOSTILE)
    session = store.correct(session_id, CorrectionKind.REMARKS, None, HOSTILE, by="I", why="w")
    session = store.correct(session_id, CorrectionKind.STATION, 1, HOSTILE, by="I", why="w")

    html = render_debrief(session, audio=store.audio)

    page = Page(html)
    assert page.all("script") == []
    assert "<script" not in html
    assert "\u202e" not in html
    assert "\x1b" not in html
    assert page.text.count('<script>alert("x")</script>&amp;') > 10


def test_what_is_wrong_is_said_in_words_beside_its_sign(report):
    html = report()

    marks = re.findall(r"<mark.*?</mark>", html, re.S)
    assert marks
    for mark in marks:
        assert any(status.value in Page(mark).text for status in Status)


def test_pictures_and_players_have_names_and_tables_have_headings(report):
    page = Page(report())

    ids = [attributes["id"] for _, attributes in page.tags if "id" in attributes]
    assert len(ids) == len(set(ids))
    named_by = [a["aria-labelledby"] for _, a in page.tags if "aria-labelledby" in a]
    assert set(named_by) <= set(ids)
    assert all("aria-labelledby" in svg for svg in page.all("svg"))
    assert all(player["aria-label"] for player in page.all("audio"))
    assert all("scope" in heading for heading in page.all("th"))
    levels = [int(tag[1]) for tag, _ in page.tags if re.fullmatch(r"h\d", tag)]
    assert levels[0] == 1
    assert all(after - before <= 1 for before, after in pairwise(levels))
    assert page.all("html")[0]["lang"] == "en"


def luminance(colour: str) -> float:
    """Source: W3C, WCAG 2.2, relative luminance."""
    parts = [int(colour[index : index + 2], 16) / 255 for index in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_every_text_has_the_contrast_of_level_aa(report):
    style = re.search(r"<style>(.*?)</style>", report(), re.S)[1]

    pairs = re.findall(r"[{;\s]color: (#\w{6}); background: (#\w{6})", style)
    # A colour without its ground would escape this test.
    assert len(pairs) == len(re.findall(r"[{;\s]color:", style)) > 5
    for colour, ground in pairs:
        lighter, darker = sorted((luminance(colour), luminance(ground)), reverse=True)
        # WCAG 2.2, success criterion 1.4.3: at least 4.5 to 1.
        assert (lighter + 0.05) / (darker + 0.05) >= 4.5, (colour, ground)


def test_corrections_stand_beside_what_was_heard(store, keep_session):
    session = store.correct(
        keep_session(), CorrectionKind.WORDS, 4, "crossing", by="Ines Marlow", why="Heard it."
    )

    page = Page(render_debrief(session, audio=store.audio))

    text = " ".join(page.text.split())
    assert f"corrected; the program heard: {CROSSED_RIGHT}" in text
    assert "Ines Marlow, 2026-03-02 09:30" in text
    assert "Heard it." in text


def test_what_a_person_overruled_counts_as_no_mistake(store, keep_session):
    session = store.correct(
        keep_session(), CorrectionKind.VERDICT, 3, "correct", by="Ines Marlow", why="Heard it."
    )

    html = render_debrief(session, audio=store.audio)

    text = " ".join(Page(html).text.split())
    assert "The program found no mistake that counts." in text
    assert "Exchange 2: correct by Ines Marlow; the program said incorrect." in text
    assert "What the program found, and what does not count:" in text
    assert "<mark" not in html


def test_a_session_without_anything_has_a_report(store, head):
    session = store.load(store.begin(head()))

    text = Page(render_debrief(session, audio=store.audio)).text

    assert "No transmission was kept." in text
    assert "was not ended" in text


def test_the_timeline_has_a_lane_a_station_and_a_mark_an_exchange(store, keep_session):
    session_id = keep_session()

    (strip,) = draw_timeline(store.load(session_id), lambda number: store.audio(session_id, number))

    assert [name for name, _ in strip.lanes] == ["tower", "flight deck"]
    assert [block.number for block in strip.blocks] == [1, 2, 3, 4]
    assert all(block.outline for block in strip.blocks)
    assert [mark.outcome for mark in strip.marks] == ["correct", "incorrect"]
    assert strip.blocks[0].x < strip.blocks[1].x < strip.blocks[2].x


def test_a_silent_hour_makes_no_empty_strips(store, keep_session, head):
    from tests.records.conftest import spoken

    session_id = store.begin(head())
    for start in (0.0, 58.0, 3600.0):
        store.keep_transmission(session_id, spoken("hold short", "tower", start))

    strips = draw_timeline(store.load(session_id), lambda _: None)

    # The second one goes on into the second minute.
    assert [strip.start_s for strip in strips] == [0.0, STRIP_S, 3600.0]


def test_typed_transmissions_stand_in_their_order(store, head):
    from readback.transmission import Transmission

    session_id = store.begin(head())
    for text in ("hold short", "holding short"):
        store.keep_transmission(session_id, Transmission.typed(text))

    (strip,) = draw_timeline(store.load(session_id), lambda _: None)

    assert not strip.timed
    assert strip.blocks[0].x + strip.blocks[0].width <= strip.blocks[1].x


def test_the_ramp_is_drawn_under_the_stations(store, keep_drill):
    session = store.load(keep_drill())

    first, *_, last = draw_timeline(session, lambda _: None, ramp_history(session))

    rows = {name: [span.value for span in spans] for name, _, spans in first.ramp}
    assert set(rows) == {"brakes", "steering pin", "engines", "push"}
    assert rows["steering pin"] == ["out", "in"]
    final = {name: spans[-1].value for name, _, spans in last.ramp}
    # The trainee never said that the brakes are released: then they are not known to be.
    assert (final["brakes"], final["steering pin"], final["push"]) == ("set", "out", "complete")
    assert final["engines"] in ("1, 2 running", "2, 1 running")
    assert all(span.width >= 1 for _, _, spans in first.ramp for span in spans)


def test_what_changed_on_the_ramp_is_told_transmission_by_transmission(store, keep_drill):
    session = store.load(keep_drill())

    page = Page(render_debrief(session, audio=store.audio))

    for changed in ("bypass pin installed", "push: moving", "push: complete", "beacon on"):
        assert changed in page.text
    assert "The aircraft on the ramp, as the words make it known." in " ".join(page.text.split())


def test_a_correction_changes_the_ramp(store, keep_drill):
    session_id = keep_drill()
    session = store.load(session_id)
    (released,) = [one.number for one in session.transmissions if one.original.text == "roger"][1:]

    session = store.correct(
        session_id, CorrectionKind.WORDS, released, "brakes released", by="I", why="w"
    )

    assert "brakes released" in [words for s in ramp_history(session).steps for words in s.changes]


@pytest.mark.parametrize(
    "changed", [{"drill": None}, {"drill": "gone_drill"}, {"drill": "taxi_one_hold_short"}]
)
def test_no_ramp_is_drawn_where_nothing_is_known_of_it(store, keep_session, changed):
    session = store.load(keep_session(**changed))

    assert ramp_history(session) is None


def test_a_drill_that_was_changed_since_is_told(store, keep_drill):
    session = store.load(keep_drill(drill_hash="0123456789abcdef"))

    text = " ".join(Page(render_debrief(session, audio=store.audio)).text.split())

    assert "the drill's file is another one now than in this session" in text


def test_measured_rates_stand_beside_the_corrections_of_the_instructor(store, keep_session):
    session = store.load(keep_session(engine="ear", engine_model="model sha256 000000000000"))
    trust = measure_trust([session])["ear"]

    html = render_debrief(session, audio=store.audio, measured=load_measured(), trust=trust)

    text = " ".join(Page(html).text.split())
    clean = load_measured().engines["ear"].conditions[0]
    assert f"measured, {clean.condition}{describe_rate(clean.passed)}" in text
    assert "by people's corrections in 0 of 1 session of Ines Marlow" in text
    assert "this session was heard by model sha256 000000000000, so they may not hold" in text
    assert "Synthetic speech is not human speech." in text


def test_the_drills_named_train_what_was_missed(store, keep_session):
    session = store.load(keep_session())
    drills = what_drills_train()
    plan = plan_practice([session], store.today, drills=drills)

    html = render_debrief(session, audio=store.audio, practice=plan, drills=drills)

    (command,) = re.findall(r"<code>(.*?)</code>", html, re.S)
    name = command.split()[-1]
    assert ("cross", "runway") in drills[name]
    assert "cross: runway" in Page(html).text


def test_a_line_is_cut_at_its_mismatches():
    verdict = check(CROSS, CROSSED_RIGHT)

    pieces = marked_words(verdict.readback, verdict.findings, "readback")

    assert " ".join(words for words, _ in pieces) == CROSSED_RIGHT
    assert [piece for piece in pieces if piece[1]] == [("two seven right", Status.WRONG)]


def test_flac_gives_the_samples_back():
    pcm, rate = decode_flac(tone(0.25))

    assert (len(pcm), rate) == (4000, 16_000)
    assert abs(pcm).max() == 8000
