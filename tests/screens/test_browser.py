"""The screens in a browser: this machine alone, and nothing from elsewhere."""

import asyncio
import json
import re
import socket
import sys
from collections.abc import Awaitable, Callable
from contextlib import suppress

import pytest
from aiohttp import ClientSession, WSMsgType, WSServerHandshakeError, web

from readback.errors import InputError
from readback.screens import browser

_ESCAPES = re.compile(r"\x1b\[[0-9;?]*[a-zA-Z]")
"""What moves the cursor and colours."""
SELF_CHECK = """
import sys
from readback.screens.app import ReadbackApp
from tests.screens.fakes import make_services
ReadbackApp(make_services(), first="self_check").run()
"""


def free_port() -> int:
    with socket.socket() as listening:
        listening.bind((browser.HOST, 0))
        return listening.getsockname()[1]


def served(use: Callable[[ClientSession, str], Awaitable[None]], command: str = "true") -> None:
    """Serve a command and let a client use it."""

    async def run() -> None:
        server = browser.make_server([], free_port())
        server.command = command
        runner = web.AppRunner(await server._make_app())
        await runner.setup()
        await web.TCPSite(runner, server.host, server.port).start()
        try:
            async with ClientSession() as client:
                await use(client, server.public_url)
        finally:
            await runner.cleanup()

    asyncio.run(run())


def test_the_page_loads_nothing_from_elsewhere():
    async def use(client: ClientSession, url: str) -> None:
        async with client.get(url) as answer:
            page, policy = await answer.text(), answer.headers["Content-Security-Policy"]
        loaded = re.findall(r"""(?:href|src)=["']([^"']+)""", page)
        assert loaded
        assert all(one.startswith(f"{url}/") for one in loaded)
        assert policy.startswith("default-src 'self';")

    served(use)


@pytest.mark.parametrize("origin", ["http://elsewhere.example", "null", None])
def test_a_page_of_another_origin_is_refused(origin):
    async def use(client: ClientSession, url: str) -> None:
        with pytest.raises(WSServerHandshakeError) as caught:
            await client.ws_connect(f"{url}/ws", headers={"Origin": origin} if origin else {})
        assert caught.value.status == 403

    served(use)


def test_another_name_for_this_address_is_refused():
    async def use(client: ClientSession, url: str) -> None:
        async with client.get(url, headers={"Host": "rebound.example"}) as answer:
            assert answer.status == 403

    served(use)


def test_only_the_loopback_address_listens():
    assert browser.make_server([], 8000).host == "127.0.0.1"


def test_the_served_program_is_this_python_with_its_arguments():
    assert browser.make_server(["practise", "--seed", "7"], 8000).command.endswith(
        "-m readback practise --seed 7"
    )


def test_a_readback_typed_in_the_page_gets_its_verdict(tmp_path):
    """What the page's own script sends and shows, without the page: keys in, a screen out."""
    program = tmp_path / "program.py"
    program.write_text(f"import sys; sys.path.insert(0, {str(_root())!r})\n{SELF_CHECK}")

    async def use(client: ClientSession, url: str) -> None:
        socket_url = f"{url}/ws?width=80&height=24"
        async with client.ws_connect(socket_url, headers={"Origin": url}) as page:
            await _see(page, "voice: not started")  # keys that come before are lost
            await _type(page, "hold short of runway 27L\r", "27L")
            await asyncio.sleep(1)  # nobody types on before the cursor has moved
            shown = await _type(page, "holding short runway 27 right\r", "INCORRECT")
        assert "27R" in shown

    served(use, f"{sys.executable} {program}")


async def _see(page, seen: str) -> str:
    """Receive until something is seen, in however many pieces it comes."""
    sent, shown = b"", ""
    with suppress(TimeoutError):
        async with asyncio.timeout(40):
            while seen not in shown:
                message = await page.receive()
                sent += message.data if message.type == WSMsgType.BINARY else b""
                shown = _ESCAPES.sub("", sent.decode(errors="replace"))
            return shown
    raise AssertionError(f"{seen} was not seen in {shown[-2000:]}")


async def _type(page, keys: str, seen: str) -> str:
    """Type, and receive until something is seen."""
    await page.send_str(json.dumps(["stdin", keys]))
    return await _see(page, seen)


def _root():
    from readback.data import data_directory

    return data_directory("grammars").parent


def test_without_the_extra_one_line_says_what_to_install(monkeypatch):
    monkeypatch.setitem(sys.modules, "textual_serve.server", None)

    with pytest.raises(InputError, match="textual-serve"):
        browser.serve_screens([])
