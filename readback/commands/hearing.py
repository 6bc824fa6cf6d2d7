"""The recogniser of one run: made when the first recording is to be heard, and closed after."""

import argparse
from collections.abc import Iterator, Sequence
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path

from readback.commands.terminal import tell
from readback.errors import InputError
from readback.listener import Listener as Listener
from readback.settings import load_settings

CHANNELS = ("clean", "radio", "interphone")
"""Channels that have thresholds of their own in ``grammars/certainty.toml``."""


def add_judging_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the options that say whose rules count and who is addressed."""
    parser.add_argument(
        "--authority",
        default="icao",
        metavar="NAME",
        help="whose rules count: icao (default), easa, faa or uk",
    )
    parser.add_argument(
        "--callsign", metavar="NAME", help="the callsign addressed, if an instruction has none"
    )


def add_local_argument(parser: argparse.ArgumentParser) -> None:
    """Add the option that names an operator's own wording."""
    parser.add_argument(
        "--local",
        metavar="DIR",
        type=Path,
        help="directory of an operator's own wording (JSGF, rules, lexicon)",
    )


def add_engine_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the options that choose a recogniser."""
    parser.add_argument(
        "--engine", metavar="NAME", help="recogniser to hear with; see readback doctor"
    )
    parser.add_argument(
        "--vosk-model", metavar="FOLDER", type=Path, help="folder of a Vosk model of English"
    )


def add_channel_argument(parser: argparse.ArgumentParser) -> None:
    """Add the option that says over which channel the sound comes."""
    parser.add_argument(
        "--channel",
        metavar="NAME",
        help="how the sound comes: clean, radio or interphone; found out from it if not given",
    )


def add_hearing_arguments(parser: argparse.ArgumentParser) -> None:
    """Add all options that say how sound is heard and judged; see `listening_as`."""
    add_judging_arguments(parser)
    add_local_argument(parser)
    add_engine_arguments(parser)
    add_channel_argument(parser)


def expect_names(listener: Listener, instructions: Sequence[str]) -> None:
    """Listen for the names in typed instructions; show each guess of how one is said, once."""
    for said in listener.expect_names(instructions):
        tell(
            f'the name "{said.name}" is listened for as {said.phones[0]}, guessed from its letters;'
            " if it is said otherwise, put it into a .dict file of your local wording."
        )


def listening_as(arguments: argparse.Namespace) -> AbstractContextManager[Listener]:
    """Listen as the options of `add_hearing_arguments` say."""
    return listening(
        arguments.engine,
        arguments.vosk_model,
        arguments.authority,
        arguments.local,
        arguments.channel,
    )


@contextmanager
def listening(
    engine: str | None = None,
    vosk_model: Path | None = None,
    authority: str = "icao",
    local: Path | None = None,
    channel: str | None = None,
) -> Iterator[Listener]:
    """Give a listener that is closed at the end, whatever happens.

    Raises:
        GrammarError: The directory of local wording holds a mistake, or nothing.
        InputError: The file of settings does, or there is no such channel.
    """
    if channel is not None and channel not in CHANNELS:
        raise InputError(f'There is no channel "{channel}".', f"Use {', '.join(CHANNELS)}.")
    settings = load_settings()
    directory = local or settings.local
    wording = None
    if directory is not None:
        from readback.judging.local import load_local

        wording = load_local(directory)
    model = vosk_model or settings.vosk_model
    second = None
    if settings.second_opinion is not None:
        second = Listener(
            settings.second_opinion, model, authority=authority, local=wording, channel=channel
        )
    listener = Listener(
        engine or settings.engine,
        model,
        authority=authority,
        local=wording,
        channel=channel,
        second=second,
    )
    try:
        yield listener
    finally:
        listener.close()
