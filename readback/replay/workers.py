"""Recordings replayed by many processes: of this machine, or of a Dask cluster."""

import os
import threading
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Executor, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass
from multiprocessing import get_context, parent_process
from pathlib import Path
from typing import Any

from readback.errors import InputError
from readback.judging.local import load_local
from readback.listener import Listener
from readback.replay.model import Replayed, ReplaySettings, readable
from readback.replay.recording import Replayer

_CONNECT_S = 5
_OWN = threading.local()
"""The replayer of each thread of a worker: a recogniser hears one transmission at a time."""


@dataclass(frozen=True)
class Workers:
    """Processes that replay recordings."""

    executor: Callable[[], AbstractContextManager[Executor]]
    """Makes one; made again after it broke."""
    at_once: int
    """How many recordings are given to it at a time."""
    lost: tuple[type[Exception], ...] = (BrokenProcessPool,)
    """What it raises for a recording whose process ended."""

    def hear(
        self, files: Sequence[str], settings: ReplaySettings
    ) -> Iterator[tuple[str, Replayed]]:
        """Replay recordings and give each with its result as it comes.

        A process that ends takes a pool of this machine with it. What it was given is then heard
        again, each recording alone, and one with which it ends again is given up.

        Raises:
            ReadbackError: The settings cannot be used where the workers run.
        """
        waiting = deque(files)
        suspects: list[str] = []
        while waiting:
            yield from self._run(waiting, settings, self.at_once, suspects)
            for file in suspects:
                again: list[str] = []
                yield from self._run(deque([file]), settings, 1, again)
                if again:
                    yield file, _given_up(file)
            suspects.clear()

    def _run(
        self, waiting: deque[str], settings: ReplaySettings, at_once: int, lost: list[str]
    ) -> Iterator[tuple[str, Replayed]]:
        """Work until nothing waits or a process ended; what that was given goes to ``lost``."""
        running: dict[Future[Replayed], str] = {}
        with self.executor() as pool:
            while running or (waiting and not lost):
                while waiting and not lost and len(running) < at_once:
                    file = waiting.popleft()
                    try:
                        future = pool.submit(replay_file, file, str(Path.cwd()), settings)
                        running[future] = file
                    except self.lost:
                        lost.append(file)
                for future in wait(running, return_when=FIRST_COMPLETED).done:
                    file = running.pop(future)
                    try:
                        yield file, future.result()
                    except self.lost:
                        lost.append(file)


def local_workers(count: int) -> Workers:
    """Give processes on the cores of this machine."""

    def pool() -> ProcessPoolExecutor:
        # Not forked: threads would be missing in the copy.
        return ProcessPoolExecutor(count, get_context("spawn"), initializer=_end_with_parent)

    return Workers(pool, count)


def _end_with_parent() -> None:
    """Have this process end when the one that gives it work does, even if that was killed."""
    parent = parent_process()

    def watch() -> None:
        if parent is not None:
            parent.join()
            os._exit(1)

    threading.Thread(target=watch, daemon=True).start()


def cluster_workers(address: str, recordings: int) -> Workers:
    """Give the workers of a Dask cluster, which see the recordings under the same paths.

    Args:
        address: Of its scheduler: ``tcp://host:8786``.
        recordings: How many there are; the scheduler is given all of them.

    Raises:
        InputError: Dask is not installed.
    """
    try:
        from distributed import KilledWorker
    except ImportError as error:
        raise InputError(
            "The package distributed is not installed.", 'Run: pip install "readback[cluster]".'
        ) from error
    return Workers(lambda: _cluster_executor(address), recordings, (KilledWorker,))


@contextmanager
def _cluster_executor(address: str) -> Iterator[Executor]:
    import distributed

    connect: Any = distributed.Client
    try:
        client = connect(address, timeout=_CONNECT_S)
    except (OSError, TimeoutError, ValueError) as error:
        raise InputError(
            f"{address}: no scheduler answers there.", "Start one: dask scheduler."
        ) from error
    with client:
        yield client.get_executor()


def replay_file(file: str, folder: str, settings: ReplaySettings) -> Replayed:
    """Replay one recording with the recogniser of this thread; what a worker runs.

    Args:
        file: Path of the recording.
        folder: From which the path counts, whatever folder the worker stands in.
        settings: The same for each recording of a run.
    """
    if getattr(_OWN, "settings", None) != settings:
        _OWN.replayer, _OWN.settings = Replayer(settings, make_listener(settings)), settings
    replayed: Replayed = _OWN.replayer.replay(Path(folder, file), name=file)
    return replayed


def make_listener(settings: ReplaySettings) -> Listener:
    """Make what hears with these settings."""
    return Listener(
        settings.engine,
        settings.vosk_model,
        authority=settings.authority,
        local=load_local(settings.local) if settings.local else None,
        channel=settings.channel,
    )


def _given_up(file: str) -> Replayed:
    name = readable(file)
    return Replayed(
        file=name,
        error=f"{name}: the process that heard it ended twice. Hear it alone, with more memory.",
    )
