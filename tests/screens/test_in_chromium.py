"""The screens in a real browser: typed into, seen, and nothing from elsewhere."""

import io
import os
import shutil
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path
from urllib.parse import urlsplit

import numpy as np
import pytest

from readback.judging.pairs import make_pairs
from readback.screens.themes import DARK_PAIR
from tests.screens.test_browser import free_port

pytestmark = pytest.mark.chromium
SEED = 7
PAIR = next(one for one in make_pairs(100, SEED) if one.error is None)
A_WORD = 400
"""Pixels that a verdict in reverse has at least."""


@pytest.fixture(scope="module")
def served(tmp_path_factory) -> Iterator[str]:
    """The program as a user starts it; gives the address of its page."""
    folder = tmp_path_factory.mktemp("served")
    port = free_port()
    process = subprocess.Popen(
        [
            sys.executable,
            "-m",
            "readback",
            *f"practise --browser --port {port} --seed {SEED}".split(),
        ],
        env={
            **os.environ,
            "READBACK_SETTINGS": str(folder / "settings.toml"),
            "READBACK_RECORDS": str(folder / "records.sqlite3"),
        },
        stdout=subprocess.PIPE,
        text=True,
    )
    told = process.stdout.readline()
    assert f"http://127.0.0.1:{port}" in told
    yield f"http://127.0.0.1:{port}"
    process.terminate()
    process.wait()


@pytest.fixture(scope="module")
def chromium():
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=shutil.which("chromium"), args=["--no-sandbox"]
        )
        yield browser
        browser.close()


class Page:
    """A page, all that it asked for, and what the program drew into it."""

    def __init__(self, chromium) -> None:
        self.page = chromium.new_page(viewport={"width": 1000, "height": 700})
        self.asked_for: list[str] = []
        self.drawn = b""
        self.page.on("request", lambda request: self.asked_for.append(request.url))
        self.page.on("websocket", self._opened)

    def _opened(self, web_socket) -> None:
        self.asked_for.append(web_socket.url)
        web_socket.on("framereceived", self._received)

    def _received(self, payload) -> None:
        self.drawn += payload if isinstance(payload, bytes) else payload.encode()

    def waits_for(self, text: str, seconds: float = 30.0) -> bool:
        until = time.monotonic() + seconds
        while text.encode() not in self.drawn and time.monotonic() < until:
            self.page.wait_for_timeout(100)
        return text.encode() in self.drawn

    def type(self, text: str) -> None:
        self.drawn = b""
        self.page.keyboard.type(text)
        self.page.keyboard.press("Enter")

    def pixels_of(self, colour: str) -> int:
        """Count what the screen shows of a colour, with what smoothing does to it."""
        import matplotlib.image

        wanted = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
        seen = matplotlib.image.imread(io.BytesIO(self.page.screenshot()), format="png")
        return int((np.abs(seen[..., :3] - wanted).max(axis=-1) < 0.03).sum())

    def shows(self, colour: str, seconds: float = 20.0) -> bool:
        until = time.monotonic() + seconds
        while self.pixels_of(colour) < A_WORD and time.monotonic() < until:
            self.page.wait_for_timeout(200)
        return self.pixels_of(colour) >= A_WORD


def test_readbacks_are_typed_and_their_verdicts_seen_and_nothing_leaves_the_machine(
    served, chromium, tmp_path
):
    page = Page(chromium)

    page.page.goto(served)
    assert page.waits_for("type the readback")
    before = page.pixels_of(DARK_PAIR["wrong"]), page.pixels_of(DARK_PAIR["correct"])
    page.type("roger")
    assert page.waits_for("INCOMPLETE")
    assert page.shows(DARK_PAIR["wrong"])
    page.page.screenshot(path=os.environ.get("READBACK_PICTURE", tmp_path / "browser.png"))
    page.page.keyboard.press("F4")
    page.type(PAIR.readback)
    assert page.waits_for("CORRECT")
    assert page.shows(DARK_PAIR["correct"])

    assert max(before) < A_WORD
    assert {urlsplit(url).hostname for url in page.asked_for} == {"127.0.0.1"}
    assert any(url.endswith(".ttf") for url in page.asked_for)


ELSEWHERE = """<script>
const socket = new WebSocket("%s/ws?width=80&height=24");
socket.onopen = () => document.title = "open";
socket.onerror = () => document.title = "refused";
</script>"""


def test_a_page_of_another_origin_is_refused_by_a_real_browser(served, chromium):
    class Elsewhere(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            self.send_response(200)
            self.send_header("Content-Type", "text/html")
            self.end_headers()
            self.wfile.write((ELSEWHERE % served.replace("http", "ws")).encode())

        def log_message(self, *_) -> None:
            pass

    other = HTTPServer(("127.0.0.1", 0), Elsewhere)
    threading.Thread(target=other.serve_forever, daemon=True).start()
    page = chromium.new_page()

    page.goto(f"http://127.0.0.1:{other.server_port}")
    page.wait_for_function("document.title != ''", timeout=20_000)

    assert page.title() == "refused"
    other.shutdown()


def test_only_the_loopback_address_listens(served):
    """What the kernel says, in proc(5): state 0A listens, addresses are in the machine's order."""
    port = f"{urlsplit(served).port:04X}"
    listening = [
        fields[1].split(":")[0]
        for name in ("tcp", "tcp6")
        for line in Path(f"/proc/net/{name}").read_text().splitlines()[1:]
        if (fields := line.split())[3] == "0A" and fields[1].endswith(f":{port}")
    ]

    assert listening == [socket.inet_aton("127.0.0.1")[::-1].hex().upper()]
