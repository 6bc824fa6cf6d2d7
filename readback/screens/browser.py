"""The same screens in a browser on this machine: loopback alone, and no request leaves it.

Microphone and loudspeaker are those of the machine that runs it.
"""

import re
import shlex
import subprocess
import sys
from collections.abc import Awaitable, Callable, Sequence
from importlib import import_module
from typing import Any

from readback.errors import InputError

HOST = "127.0.0.1"
DEFAULT_PORT = 8421

_FOREIGN_LINK = re.compile(r"<link\b[^>]*https?://[^>]*fonts[^>]*>", re.DOTALL)
_OWN_FONT = (
    '<style>@font-face { font-family: "Roboto Mono";'
    ' src: url("/static/fonts/RobotoMono-VariableFont_wght.ttf"); }</style>'
)
_FOCUS = """<script>
const waiting = setInterval(() => {
  const keys = document.querySelector(".xterm-helper-textarea");
  if (keys && document.body.classList.contains("-first-byte")) {
    keys.focus();
    clearInterval(waiting);
  }
}, 100);
</script></body>"""
"""Else the first keys that are typed go nowhere."""


def serve_screens(arguments: Sequence[str], port: int = DEFAULT_PORT) -> None:
    """Serve the screens until Ctrl-C; each page that is opened gets a program of its own.

    Args:
        arguments: Of ``readback``, for that program: ``["practise"]``.
        port: Of the loopback address.

    Raises:
        InputError: The extra is not installed, or the port cannot be used.
    """
    server = make_server(arguments, port)
    print(f"readback at {server.public_url}, on this machine only. Ctrl-C ends it.", flush=True)
    try:
        server.serve()
    except OSError as error:
        raise InputError(
            f"Port {port} cannot be used ({error.strerror}).", "Give another with --port."
        ) from error


def make_server(arguments: Sequence[str], port: int) -> Any:
    """Make the server; see `serve_screens`."""
    try:
        textual_serve = import_module("textual_serve.server")
        web = import_module("aiohttp.web")
    except ImportError as error:
        raise InputError(
            "The browser needs the package textual-serve.", 'pip install "readback[browser]".'
        ) from error
    base: Any = textual_serve.Server

    class LocalServer(base):  # type: ignore[misc]
        """Answers nobody but pages of its own."""

        async def _make_app(self) -> Any:
            app = await super()._make_app()
            app.middlewares.append(make_guard(web, self.public_url))
            return app

        async def on_startup(self, app: Any) -> None:
            """Say nothing: `serve_screens` has said it."""

        def initialize_logging(self) -> None:
            """Keep one line for the user from being many."""

    return LocalServer(_command(arguments), host=HOST, port=port, title="readback")


def make_guard(web: Any, own_url: str) -> Any:
    """Make what stands before every request.

    A page of any other site in the same browser could open our socket, which has no login; and a
    name that someone lets point to the loopback address would make such a page one of ours. So
    both the origin and the host have to be this server. What our page may load is told to the
    browser as well (Content Security Policy Level 3).
    """
    host = own_url.removeprefix("http://")
    policy = (
        "default-src 'self'; script-src 'self' 'unsafe-inline'; style-src 'self' 'unsafe-inline';"
        f" img-src 'self' data:; connect-src 'self' ws://{host}; frame-ancestors 'none'"
    )

    @web.middleware  # type: ignore[untyped-decorator]
    async def guard(request: Any, handler: Callable[[Any], Awaitable[Any]]) -> Any:
        if request.headers.get("Host") != host:
            raise web.HTTPForbidden(text=f"Open {own_url} on this machine.")
        origin = request.headers.get("Origin")
        if origin != own_url and (origin is not None or request.path == "/ws"):
            raise web.HTTPForbidden(text="Not for pages of other sites.")
        response = await handler(request)
        if request.path == "/":
            # The page as shipped fetches from elsewhere a font that lies beside it.
            page = _FOREIGN_LINK.sub(_OWN_FONT, response.text)
            response.text = page.replace("</body>", _FOCUS)
        if not response.prepared:
            response.headers["Content-Security-Policy"] = policy
        return response

    return guard


def _command(arguments: Sequence[str]) -> str:
    command = [sys.executable, "-m", "readback", *arguments]
    return subprocess.list2cmdline(command) if sys.platform == "win32" else shlex.join(command)
