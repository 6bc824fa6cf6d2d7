"""``readback doctor``: what works on this machine, and how to mend what does not."""

import argparse
import ctypes.util
import importlib.util
import json
import platform
import sys
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass, replace
from pathlib import Path

from readback import __version__
from readback.commands.terminal import Piece, Style, Terminal, escape, json_writer
from readback.errors import ReadbackError
from readback.settings import load_settings

NAME = "doctor"
SUMMARY = "tell what works on this machine, and how to mend what does not"
DESCRIPTION = (
    "Tell what works on this machine, and how to mend what does not. Nothing is recorded or"
    " changed; a Vosk model is loaded once. Exit status 2 if something that every use needs does"
    " not work."
)
EXAMPLE = "readback doctor"


@dataclass(frozen=True)
class Check:
    """One thing looked at."""

    name: str
    works: bool
    needed: bool
    """Whether nothing can be heard or judged without it."""
    detail: str
    """What was found; where it does not work, what to do."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add this command's arguments."""
    parser.add_argument(
        "--vosk-model", metavar="FOLDER", type=Path, help="folder of a Vosk model of English"
    )
    parser.add_argument("--json", action="store_true", help="print JSON, for programs")


def run(arguments: argparse.Namespace) -> int:
    """Look at everything; see `readback.cli.main` for the status."""
    checks = tuple(look(arguments.vosk_model or load_settings().vosk_model))
    if arguments.json:
        json_writer()(json.dumps({"checks": [asdict(check) for check in checks]}, indent=2))
    else:
        _show(checks)
    return 0 if all(check.works or not check.needed for check in checks) else 2


def look(vosk_model: Path | None = None) -> Iterator[Check]:
    """Look at each thing that readback uses.

    Args:
        vosk_model: Folder of a Vosk model; None looks in the usual places.
    """
    yield Check("python", True, True, f"{platform.python_version()} at {sys.executable}")
    yield Check("readback", True, True, f"{__version__} at {Path(__file__).parents[1]}")
    yield _try("grammar", _look_at_grammar)
    yield _try("lexicon", _look_at_lexicon)
    yield _try("names", _look_at_names)
    yield _try("rules", _look_at_rules)
    yield from _look_at_engines(vosk_model)
    yield _try("recordings", _look_at_recordings, needed=False)
    yield _look_at_microphone()


def _try(name: str, action: Callable[[], str], *, needed: bool = True) -> Check:
    try:
        return Check(name, True, needed, action())
    except ReadbackError as error:
        return Check(name, False, needed, str(error))


def _look_at_grammar() -> str:
    from readback.phraseology.grammar import load_grammar

    grammar = load_grammar()
    return f"{len(grammar.calls)} calls, {len(grammar.vocabulary)} words"


def _look_at_lexicon() -> str:
    from readback.phraseology.grammar import load_grammar

    return f"a pronunciation for each of {len(load_grammar().search().pronunciations)} words"


def _look_at_names() -> str:
    """Show how the names of the local wording are listened for: a guess is to be confirmed."""
    from readback.judging.local import load_local
    from readback.listener import Listener

    directory = load_settings().local
    if directory is None:
        return "none of an operator's own"
    names = Listener(local=load_local(directory)).names.values()
    shown = (
        f"{said.name}: {said.phones[0]}{' (guessed)' if said.guessed else ''}" for said in names
    )
    return "; ".join(shown) or f"none in {directory}"


def _look_at_rules() -> str:
    from readback.judging.rules import AUTHORITIES, load_rules

    for authority in AUTHORITIES:
        load_rules(authority)
    return ", ".join(AUTHORITIES)


def _look_at_engines(vosk_model: Path | None) -> Iterator[Check]:
    from readback.speech.engines import available_engines, default_engine

    statuses = available_engines(vosk_model)
    default = default_engine(vosk_model)
    for status in statuses:
        mark = ", used unless another is named" if status.name == default else ""
        check = Check(
            f"recogniser {status.name}", status.works, status.name == default, status.detail + mark
        )
        yield _started(check, vosk_model) if status.name == "vosk" and check.works else check


def _started(check: Check, vosk_model: Path | None) -> Check:
    """Start Vosk with its model as listening does: whole files can still be a wrong model."""
    from readback.phraseology.grammar import load_grammar
    from readback.speech.engines import make_recogniser

    try:
        make_recogniser("vosk", load_grammar().search(), vosk_model=vosk_model).close()
    except ReadbackError as error:
        return replace(check, works=False, detail=str(error))
    return check


def _look_at_recordings() -> str:
    from readback.commands.demo import load_manifest
    from readback.data import data_directory
    from readback.errors import InputError

    directory = data_directory("audio_demo_synth") / "recordings"
    shipped = load_manifest(directory / "manifest.json")
    lost = [item.file for item in shipped if not (directory / item.file).is_file()]
    if lost:
        raise InputError(f"{directory}: {', '.join(lost)} not found.", "Install readback again.")
    return f"{len(shipped)} at {directory}"


def _look_at_microphone() -> Check:
    """Look for the library that records, without starting it: no microphone is opened."""
    package = importlib.util.find_spec("sounddevice") is not None
    # The wheels for Windows and macOS bring the library; on Linux it is the system's.
    brought = importlib.util.find_spec("_sounddevice_data") is not None
    found = ctypes.util.find_library("portaudio")
    if package and (brought or found):
        return Check("microphone", True, False, f"library found ({found or 'in the package'})")
    if not package:
        return Check("microphone", False, False, "no sounddevice. Install readback again.")
    remedy = "Install it; on Debian and Ubuntu: apt-get install libportaudio2."
    return Check("microphone", False, False, f"the PortAudio library is not there. {remedy}")


def _show(checks: tuple[Check, ...]) -> None:
    terminal = Terminal.of()
    for check in checks:
        sign, style = _mark(check)
        pieces = [Piece(f"{terminal.sign(sign)} {check.name}:", style), Piece(escape(check.detail))]
        for line in terminal.lines(pieces, rest="    "):
            print(line)


def _mark(check: Check) -> tuple[str, Style]:
    if check.works:
        return "✓", "right"
    return ("✗", "wrong") if check.needed else ("–", "plain")
