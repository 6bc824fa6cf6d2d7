"""The report in a browser: seen by an accessibility checker, printed, and kept from the network."""

import re
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from readback.measure.rates import load_measured
from readback.records.debrief import render_debrief
from readback.records.model import CorrectionKind
from readback.records.practice import plan_practice
from readback.records.training import what_drills_train
from readback.records.trust import measure_trust

pytestmark = pytest.mark.chromium

HOSTILE = '"><img src=http://elsewhere.example/x onerror=alert(1)><!--\u202e\x1b[31m'
# ISO 216 and ANSI/ASME Y14.1, in points of 1/72 inch.
PAPER = {"A4": (595, 842), "Letter": (612, 792)}


@pytest.fixture
def where(tmp_path) -> str:
    """What reads no database needs only one kind."""
    return str(tmp_path / "records.sqlite3")


@pytest.fixture(scope="module")
def browser() -> Iterator:
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        # Its sandbox cannot be set up by root, which containers run as.
        started = playwright.chromium.launch(
            executable_path=shutil.which("chromium"), args=["--no-sandbox"]
        )
        yield started
        started.close()


@pytest.fixture(params=["drill", "radio", "hostile", "empty"])
def report(request, store, keep_drill, keep_session, head, tmp_path) -> Path:
    """A report of each kind, as `readback records export` writes it."""
    if request.param == "drill":
        session_id = keep_drill()
        store.correct(session_id, CorrectionKind.WORDS, 2, "five by five", by="Ines", why="Heard.")
    elif request.param == "radio":
        session_id = keep_session(engine="ear")
        store.correct(session_id, CorrectionKind.VERDICT, 3, "correct", by="Ines", why="Heard.")
    elif request.param == "hostile":
        names = ("organisation", "training", "instructor", "trainee", "group", "engine")
        texts = ((HOSTILE, HOSTILE), ("larkspur 421 hold short of runway 27", HOSTILE))
        session_id = keep_session(texts=texts, topics=(HOSTILE,), **dict.fromkeys(names, HOSTILE))
        store.correct(session_id, CorrectionKind.REMARKS, None, HOSTILE, by=HOSTILE, why=HOSTILE)
        store.correct(session_id, CorrectionKind.STATION, 1, HOSTILE, by=HOSTILE, why=HOSTILE)
    else:
        session_id = store.begin(head())
    return write_report(store, session_id, tmp_path / "debrief.html")


def write_report(store, session_id: int, file: Path) -> Path:
    session, drills = store.load(session_id), what_drills_train()
    html = render_debrief(
        session,
        audio=store.audio,
        practice=plan_practice([session], store.today, drills=drills),
        drills=drills,
        measured=load_measured(),
        trust=measure_trust([session]).get(session.head.engine),
    )
    file.write_text(html, encoding="utf-8")
    return file


@pytest.fixture
def page(browser) -> Iterator:
    """A page that notes what it asks for and complains of."""
    opened = browser.new_page()
    opened.asked, opened.complaints = [], []
    opened.on("request", lambda request: opened.asked.append(request.url))
    opened.on("console", lambda message: opened.complaints.append(message.text))
    opened.on("dialog", lambda dialog: opened.complaints.append(dialog.message))
    yield opened
    opened.close()


def violations(page) -> list[str]:
    from axe_playwright_python.sync_playwright import Axe

    return [found["id"] for found in Axe().run(page).response["violations"]]


@pytest.mark.parametrize("width", [1100, 390], ids=["desk", "phone"])
def test_the_accessibility_checker_finds_nothing(page, report, width):
    page.set_viewport_size({"width": width, "height": 800})
    page.goto(report.as_uri())

    assert violations(page) == []
    # WCAG 2.2, success criterion 1.4.10: nothing is read by moving to and fro.
    assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_the_accessibility_checker_would_find_something(page, store, keep_session, tmp_path):
    report = write_report(store, keep_session(), tmp_path / "debrief.html")
    html = report.read_text(encoding="utf-8")
    damaged = html.replace(' lang="en"', "").replace("color: #1a1a1a;", "color: #cccccc;")
    report.write_text(damaged, encoding="utf-8")
    page.goto(report.as_uri())

    assert {"html-has-lang", "color-contrast"} <= set(violations(page))


def test_nothing_is_asked_of_any_network_and_nothing_runs(page, report):
    page.goto(report.as_uri())
    players = page.locator("audio")
    for number in range(min(2, players.count())):
        players.nth(number).evaluate("player => player.play()")

    page.wait_for_timeout(200)
    assert {url for url in page.asked if not url.startswith("data:audio/flac")} == {report.as_uri()}
    assert page.complaints == []


def test_the_sound_plays_in_its_place(page, store, keep_session, tmp_path):
    report = write_report(store, keep_session(), tmp_path / "debrief.html")
    page.goto(report.as_uri())

    page.locator("audio").first.evaluate(
        "player => new Promise((done, fail) => {"
        " player.onended = done; player.onerror = () => fail(player.error.message);"
        " player.muted = true; player.play(); })"
    )

    seconds = page.locator("audio").first.evaluate("player => player.duration")
    assert seconds == pytest.approx(0.5, abs=0.01)


@pytest.mark.parametrize("paper", PAPER)
def test_all_of_it_is_on_the_printed_pages(page, store, keep_drill, tmp_path, paper):
    session_id = keep_drill()
    page.goto(write_report(store, session_id, tmp_path / "debrief.html").as_uri())
    file = tmp_path / "debrief.pdf"

    page.pdf(path=file, format=paper)

    pages = printed_pages(file)
    assert page_size(file) == pytest.approx(PAPER[paper], abs=1)
    # About three exchanges go on a page; the figure of Chromium's and fonts' making is no more.
    assert 6 <= len(pages) <= 16
    assert all(text.strip() for text in pages)
    text = " ".join(" ".join(pages).split())
    for number in range(1, len(store.load(session_id).exchanges) + 1):
        assert text.count(f"Exchange {number}:") == 1
    for heading in ("What went wrong", "Timeline", "What to practise next", "Instructor's remarks",
                    "How far to trust the verdicts", "Record", "Cautions"):  # fmt: skip
        assert heading in text
    assert "Watch the brakes." in text
    assert "steering pin" in pages[0]


def printed_pages(file: Path) -> list[str]:
    ran = subprocess.run(["pdftotext", "-layout", file, "-"], capture_output=True, check=True)
    return ran.stdout.decode().split("\f")[:-1]


def page_size(file: Path) -> tuple[float, ...]:
    ran = subprocess.run(["pdfinfo", file], capture_output=True, check=True)
    found = re.search(r"Page size: +([\d.]+) x ([\d.]+)", ran.stdout.decode())
    return tuple(map(float, found.groups()))
