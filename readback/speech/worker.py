"""A recogniser in a process of its own, which may crash or hang without taking us along.

PocketSphinx also holds the interpreter's lock while it decodes: 0.7 s of frozen screen for 5 s.

The process is a plain one that talks over its standard streams. `multiprocessing` would run the
user's main module again in it, which fails for a script without a main guard.
"""

import dataclasses
import logging
import os
import pickle
import queue
import signal
import struct
import subprocess
import sys
import threading
from pathlib import Path
from typing import IO, Any

from readback.errors import ReadbackError, RecogniserBroke, RecogniserError
from readback.search import SearchGrammar
from readback.speech.recogniser import SAMPLE_RATE_HZ
from readback.transmission import Transmission

START_TIMEOUT_S = 60.0
"""A Vosk model loads in 4 s here; a laptop's disk may be slow."""
ANSWER_TIMEOUT_S = 20.0
"""Beyond the audio's own length. The slowest engine measured takes 0.4 of it."""

_LOG = logging.getLogger(__name__)
_NO_MEMORY = 12
"""Exit code of a process that had none left: the number of ENOMEM."""
_HEADER = struct.Struct("<Q")
_CLOSE_S = 1.0
_ONE_THREAD = {
    f"{library}_NUM_THREADS": "1" for library in ("OMP", "OPENBLAS", "MKL", "VECLIB_MAXIMUM")
}
"""The libraries that add up numbers round otherwise with each number of threads: with one the same
recording is heard the same anywhere, and processes do not take the cores from one another."""
_START = "import sys; sys.path[:] = {path!r}; from readback.speech.worker import serve; serve()"


class RecogniserProcess:
    """Any recogniser, run in its own process; kept to `Recogniser`.

    A crash or a hang is a `RecogniserBroke` for the transmission that it met; what had been fed of
    it is lost, and the next call starts a fresh process.

    Args:
        name: The engine, as `readback.speech.engines.make_recogniser` takes it.
        grammar: All that may be said.
        vosk_model: Folder of a Vosk model, for ``vosk``.
        timeout_s: Longest wait for an answer beyond the length of its audio.

    Raises:
        RecogniserError: The engine cannot work, told by the engine or by how its process ended.
    """

    sample_rate_hz = SAMPLE_RATE_HZ

    def __init__(
        self,
        name: str,
        grammar: SearchGrammar,
        *,
        vosk_model: Path | None = None,
        timeout_s: float = ANSWER_TIMEOUT_S,
    ) -> None:
        self.name = name
        # A read-only mapping does not survive pickling.
        plain = dataclasses.replace(grammar, pronunciations=dict(grammar.pronunciations))
        self._setup = pickle.dumps((name, plain, vosk_model))
        self._timeout_s = timeout_s
        self._fed_bytes = 0
        self._closed = False
        self._child: _Child | None = _Child(name, self._setup)

    @property
    def pid(self) -> int | None:
        """Number of the process; None while there is none."""
        return self._child.pid if self._child else None

    def recognise(self, pcm: bytes) -> Transmission:
        """See `Recogniser.recognise`."""
        return self._ask("recognise", (pcm,), len(pcm))

    def feed(self, pcm: bytes) -> Transmission:
        """See `Recogniser.feed`."""
        self._fed_bytes += len(pcm)
        return self._ask("feed", (pcm,), len(pcm))

    def settle(self) -> Transmission:
        """See `Recogniser.settle`."""
        return self._ask("settle", (), self._fed_bytes)

    def finish(self) -> Transmission:
        """See `Recogniser.finish`."""
        fed, self._fed_bytes = self._fed_bytes, 0
        return self._ask("finish", (), fed)

    def close(self) -> None:
        """See `Recogniser.close`; the process has ended when this returns."""
        self._closed = True
        self._drop()

    def _ask(self, method: str, arguments: tuple[bytes, ...], size: int) -> Transmission:
        if self._closed:
            raise RecogniserError(f"{self.name}: the recogniser is closed.", "Make a new one.")
        if self._child is None:
            self._child = _Child(self.name, self._setup)
        try:
            answer = self._child.ask(
                (method, arguments), self._timeout_s + size / 2 / SAMPLE_RATE_HZ
            )
        except _ChildError as failure:
            self._drop()
            self._fed_bytes = 0
            _LOG.warning("%s: %s while it listened; it is started anew", self.name, failure)
            raise RecogniserBroke(
                f"{self.name}: {failure} while it listened.", "Say the transmission again."
            ) from failure
        except BaseException:
            # Interrupted while waiting: the answer to come would be taken for the next one's.
            self._drop()
            raise
        if isinstance(answer, ReadbackError):
            _LOG.warning("%s", answer)
            raise RecogniserBroke(answer.what, answer.remedy) from answer
        if not isinstance(answer, Transmission):
            raise TypeError(f"the recogniser's process answered {answer!r}")
        return answer

    def _drop(self) -> None:
        if self._child is not None:
            self._child.end()
            self._child = None


class _ChildError(Exception):
    """The process ended or hung; the text continues "ENGINE: "."""


class _Child:
    """One process: messages are pickles, each after its length."""

    def __init__(self, name: str, setup: bytes) -> None:
        # The same import path, as the package may come from a checkout.
        start = _START.format(path=[str(entry) for entry in sys.path])
        try:
            self._process = subprocess.Popen(
                [sys.executable, "-c", start],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                env={**os.environ, **_ONE_THREAD},
                # Ctrl-C in a terminal reaches all that were started from it: even while it starts,
                # ending it is ours to decide.
                start_new_session=True,
            )
        except OSError as error:
            raise RecogniserError(
                f"{name}: its process cannot be started ({error.strerror}).",
                "Close other programs and try again.",
            ) from error
        self.pid = self._process.pid
        self._answers: queue.SimpleQueue[Any] = queue.SimpleQueue()
        threading.Thread(target=self._listen, daemon=True).start()
        try:
            ready = self.ask_raw(setup, START_TIMEOUT_S)
        except _ChildError as failure:
            self.end()
            raise RecogniserError(
                f"{name}: {failure} while it started.",
                "A damaged model does this, and too little memory: run readback doctor.",
            ) from failure
        except BaseException:
            self.end()
            raise
        if isinstance(ready, ReadbackError):
            self.end()
            raise ready

    def ask(self, message: Any, timeout_s: float) -> Any:
        return self.ask_raw(pickle.dumps(message), timeout_s)

    def ask_raw(self, message: bytes, timeout_s: float) -> Any:
        # Written aside: into a full pipe to a process that hangs, writing would wait for ever.
        threading.Thread(target=self._send, args=(message,), daemon=True).start()
        try:
            answer = self._answers.get(timeout=timeout_s)
        except queue.Empty:
            raise _ChildError(f"the engine gave no answer for {timeout_s:.0f} s") from None
        if answer is None:
            code = self._process.wait()
            raise _ChildError(f"the engine ended ({_how(code)})")
        return answer

    def end(self) -> None:
        """End the process, by asking if it listens."""
        try:
            if self._process.poll() is None and self._process.stdin is not None:
                self._process.stdin.close()
                self._process.wait(_CLOSE_S)
        except (OSError, subprocess.TimeoutExpired):
            pass
        self._process.kill()
        self._process.wait()
        if self._process.stdout is not None:
            self._process.stdout.close()

    def _send(self, message: bytes) -> None:
        pipe = self._process.stdin
        try:
            if pipe is not None:
                _write(pipe, message)
        except (OSError, ValueError):
            # It has ended: the listener sees that, too, and tells it.
            return

    def _listen(self) -> None:
        pipe = self._process.stdout
        try:
            while pipe is not None and (message := _read(pipe)) is not None:
                self._answers.put(pickle.loads(message))
        except (OSError, ValueError, pickle.UnpicklingError, EOFError):
            pass
        self._answers.put(None)


def serve() -> None:
    """Answer over the standard streams until they are closed; the process's whole work."""
    from readback.log import keep_log

    keep_log()
    # Where there are no sessions, Ctrl-C reaches it as well; ending is the parent's to decide.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    answers = os.fdopen(os.dup(1), "wb")
    with Path(os.devnull).open("wb") as nowhere:
        os.dup2(nowhere.fileno(), 1)  # What an engine prints must not land among the answers.
    requests: queue.SimpleQueue[bytes] = queue.SimpleQueue()
    threading.Thread(target=_take_requests, args=(requests,), daemon=True).start()
    try:
        _answer(requests, answers)
    except MemoryError:
        # At once: an orderly exit needs memory too, and prints why it fails.
        os._exit(_NO_MEMORY)


def _answer(requests: "queue.SimpleQueue[bytes]", answers: IO[bytes]) -> None:
    from readback.speech.engines import make_recogniser

    name, grammar, vosk_model = pickle.loads(requests.get())
    try:
        engine = make_recogniser(name, grammar, vosk_model=vosk_model, in_process=True)
    except ReadbackError as error:
        _write(answers, pickle.dumps(error))
        os._exit(0)  # A usual exit would wait for the thread that reads.
    _write(answers, pickle.dumps("ready"))
    while True:
        method, arguments = pickle.loads(requests.get())
        try:
            answer: object = getattr(engine, method)(*arguments)
        except ReadbackError as error:
            answer = error
        _write(answers, pickle.dumps(answer))


def _take_requests(requests: "queue.SimpleQueue[bytes]") -> None:
    try:
        while (message := _read(sys.stdin.buffer)) is not None:
            requests.put(message)
    except MemoryError:
        os._exit(_NO_MEMORY)
    # The parent closed the pipe or is gone: nobody waits for what is being decoded.
    os._exit(0)


def _write(pipe: IO[bytes], message: bytes) -> None:
    pipe.write(_HEADER.pack(len(message)) + message)
    pipe.flush()


def _read(pipe: IO[bytes]) -> bytes | None:
    header = pipe.read(_HEADER.size)
    if len(header) < _HEADER.size:
        return None
    size = _HEADER.unpack(header)[0]
    message = pipe.read(size)
    return message if len(message) == size else None


def _how(code: int) -> str:
    if code == _NO_MEMORY:
        return "no memory was left"
    if code < 0:
        try:
            return signal.Signals(-code).name
        except ValueError:
            return f"signal {-code}"
    return f"exit code {code}"
