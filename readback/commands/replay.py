"""``readback replay``: recorded drills, who said what and a verdict for each exchange."""

import argparse
import json
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from shlex import quote
from typing import TYPE_CHECKING

from readback.commands.hearing import Listener, listening
from readback.commands.progress import Advance, progress_bar
from readback.commands.replay_arguments import (
    add_replay_arguments,
    read_kept,
    read_settings,
    read_workers,
)
from readback.commands.terminal import Terminal, json_writer, tell
from readback.errors import InputError

if TYPE_CHECKING:
    from readback.replay.kept import KeptResults
    from readback.replay.model import Replayed, ReplaySettings
    from readback.replay.workers import Workers

NAME = "replay"
SUMMARY = "judge the exchanges in recorded drills"
DESCRIPTION = (
    "Hear recorded drills, minutes or hours long: who said what, and a verdict for each exchange."
    " Where each station has a channel of its own that tells them apart; else the turns, the"
    " callsigns and the calls do, or you, with --station. A folder gives a table."
)
EXAMPLE = "readback replay audio_demo_synth/recordings/gc04_cross_for_hold_short.flac"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add this command's arguments."""
    add_replay_arguments(parser)


def run(arguments: argparse.Namespace) -> int:
    """Hear and judge the recordings; see `readback.cli.main` for the status."""
    from readback.replay.folder import find_recordings

    files = find_recordings(arguments.files)
    as_table = any(Path(name).is_dir() for name in arguments.files)
    settings = read_settings(arguments, len(files))
    workers = read_workers(arguments, len(files))
    kept = read_kept(arguments, settings, len(files))
    with (
        listening(
            settings.engine,
            settings.vosk_model,
            settings.authority,
            settings.local,
            settings.channel,
        ) as listener,
        _records(arguments, settings) as keep,
    ):
        recordings = _replay(files, settings, listener, workers, kept)
        keep(files, recordings)
    if kept is not None and arguments.results is None:
        # What was said is not kept longer than it is needed.
        kept.clear()
    return _show(recordings, as_table=as_table, as_json=arguments.json)


def show_replay(
    files: Sequence[str],
    listener: Listener,
    *,
    authority: str = "icao",
    callsign: str | None = None,
    as_json: bool = False,
) -> int:
    """Hear and judge the exchanges of recordings with a listener that is there.

    Args:
        files: Paths of recordings.
        listener: Hears them.
        authority: Whose rules count.
        callsign: The callsign addressed, where instructions have none.
        as_json: Print one JSON document instead of text.

    Returns:
        0: all readbacks are correct. 1: one is not. 2: a recording was not heard to its end, or
        holds no instruction.
    """
    from readback.replay.many import replay_all
    from readback.replay.model import ReplaySettings

    settings = ReplaySettings(authority=authority, callsign=callsign)
    recordings = replay_all(files, lambda some: _hear_here(some, settings, listener))
    return _show(recordings, as_table=False, as_json=as_json)


# ---- hearing -------------------------------------------------------------------------------------


def _replay(
    files: Sequence[str],
    settings: "ReplaySettings",
    listener: Listener,
    workers: "Workers | None",
    kept: "KeptResults | None",
) -> "list[Replayed]":
    from readback.replay.many import replay_all

    done = 0.0
    with progress_bar(len(files)) as advance:

        def told(replayed: "Replayed") -> None:
            nonlocal done
            done += 1
            advance(done, Path(replayed.file).name)

        def hear(some: Sequence[str]) -> "Iterator[tuple[str, Replayed]]":
            if workers is not None:
                return workers.hear(some, settings)
            return _hear_here(
                some, settings, listener, lambda part, name: advance(done + part, name)
            )

        return replay_all(files, hear, kept=kept, told=told)


def _hear_here(
    files: Sequence[str],
    settings: "ReplaySettings",
    listener: Listener,
    advance: Advance = lambda part, name: None,
) -> "Iterator[tuple[str, Replayed]]":
    from readback.replay.recording import Replayer

    replayer = Replayer(settings, listener)
    for file in files:
        path = Path(file)

        def on_block(read_s: float, whole_s: float, name: str = path.name) -> None:
            advance(min(read_s / whole_s, 1.0) if whole_s else 0.0, name)

        yield file, replayer.replay(path, progress=on_block)


@contextmanager
def _records(
    arguments: argparse.Namespace, settings: "ReplaySettings"
) -> "Iterator[Callable[[Sequence[str], Sequence[Replayed]], None]]":
    """Open the records before anything is heard, so that hours are not lost on a mistake."""
    if not arguments.store:
        yield lambda files, recordings: None
        return
    if not (arguments.trainee and arguments.training):
        raise InputError(
            "A session needs a trainee and a training.", "Give --trainee NAME and --training NAME."
        )
    from readback.commands.record_adding import make_head
    from readback.commands.records import open_records
    from readback.judging.local import load_local
    from readback.replay.keeping import keep_replayed

    arguments.authority = settings.authority
    with open_records(arguments.records) as store:
        head = make_head(store, arguments)
        local = load_local(settings.local) if settings.local else None

        def keep(files: Sequence[str], recordings: "Sequence[Replayed]") -> None:
            for file, one in zip(files, recordings, strict=True):
                if one.transmissions and one.error is None:
                    number, fresh = keep_replayed(store, head, Path(file), one, local)
                    was = "" if fresh else "was "
                    tell(f"{one.file}: {was}kept as session {number}.")

        yield keep


# ---- showing -------------------------------------------------------------------------------------


def _show(recordings: "Sequence[Replayed]", *, as_table: bool, as_json: bool) -> int:
    if as_json:
        document = {
            "recordings": [one.document() for one in recordings],
            "broken": [
                {"file": one.file, "error": one.error}
                for one in recordings
                if one.error is not None
            ],
        }
        json_writer()(json.dumps(document, indent=2))
    else:
        _print(recordings, as_table=as_table)
    broken = [one.error for one in recordings if one.error is not None]
    if not as_table:
        broken += [_nothing(one) for one in recordings if _is_empty(one)]
    for error in broken:
        tell(error)
    if broken:
        return 2
    return 0 if all(one.is_right for one in recordings) else 1


def _print(recordings: "Sequence[Replayed]", *, as_table: bool) -> None:
    from readback.commands.render import CAUTION
    from readback.commands.replay_render import render_recording, render_table

    terminal = Terminal.of()
    for one in () if as_table else recordings:
        for line in render_recording(one, terminal):
            print(line)
    for line in render_table(recordings, terminal.width) if as_table else ():
        print(line)
    sys.stdout.flush()
    wrong = next((one.file for one in recordings if one.exchanges and not one.is_right), None)
    if as_table and wrong is not None:
        tell(f"what was said in one of them, and what was wrong: readback replay {quote(wrong)}")
    if any(one.exchanges or one.drill is not None for one in recordings):
        print(CAUTION, file=sys.stderr)


def _is_empty(replayed: "Replayed") -> bool:
    return replayed.error is None and not replayed.exchanges and replayed.drill is None


def _nothing(replayed: "Replayed") -> str:
    if not replayed.transmissions:
        return f"{replayed.file}: nobody speaks in it. Give a recording of an exchange."
    return (
        f"{replayed.file}: no instruction that wants an answer was heard."
        " Give a recording of instructions and their readbacks."
    )
