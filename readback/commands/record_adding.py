"""Recordings heard, judged and kept as sessions of the records."""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from readback import __version__
from readback.commands.hearing import Listener, listening
from readback.commands.terminal import escape, tell
from readback.errors import InputError, ReadbackError

if TYPE_CHECKING:
    from readback.records.model import SessionHead
    from readback.records.store import Store


def add_recordings(store: "Store", arguments: argparse.Namespace) -> int:
    """Keep one session for each recording.

    Returns:
        0: all were kept. 2: one was not; it is told, and the others are kept.
    """
    head = make_head(store, arguments)
    status = 0
    with listening(
        arguments.engine, arguments.vosk_model, arguments.authority, arguments.local
    ) as listener:
        for path in arguments.files:
            try:
                number, fresh = keep_recording(store, head, path, listener)
            except ReadbackError as error:
                tell(str(error))
                status = 2
            else:
                score = store.load(number).score
                print(
                    f"session {number}{'' if fresh else ', kept before'}: {escape(str(path))}:"
                    f" {score.correct} correct,"
                    f" {score.wrong} not, {score.not_judged} not judged"
                )
    return status


def make_head(store: "Store", arguments: argparse.Namespace) -> "SessionHead":
    """Make the head of the sessions from what was typed.

    Raises:
        InputError: Something of it cannot be kept.
    """
    from pydantic import ValidationError

    from readback.judging.rules import load_rules
    from readback.records.intervals import add_months
    from readback.records.model import SessionHead
    from readback.records.stating import wrong_detail
    from readback.records.versions import drill_hash, grammar_version, rules_version

    load_rules(arguments.authority)
    drill = arguments.drill or None
    training_date = arguments.date or store.today
    keep_until = arguments.keep_until
    if arguments.keep_months is not None:
        keep_until = add_months(training_date, arguments.keep_months)
    try:
        return SessionHead(
            organisation=arguments.organisation,
            training=arguments.training,
            competencies=tuple(arguments.competency),
            topics=tuple(arguments.topic),
            training_date=training_date,
            assessment_date=arguments.assessed,
            instructor=arguments.instructor,
            trainee=arguments.trainee,
            group=arguments.group,
            authority=arguments.authority,
            callsign=arguments.callsign,
            drill=drill,
            drill_hash=drill_hash(drill),
            grammar_version=grammar_version(),
            rules_version=rules_version(),
            program_version=__version__,
            settings={"noise": arguments.noise} if arguments.noise else {},
            consent=arguments.consent,
            keep_until=keep_until,
            pass_mark=arguments.pass_mark,
            result=arguments.result,
            remarks=arguments.remarks,
        )
    except ValidationError as error:
        raise wrong_detail(error) from error


def keep_recording(
    store: "Store", head: "SessionHead", path: Path, listener: Listener
) -> tuple[int, bool]:
    """Hear a recording as ``readback replay`` does, and keep everything.

    Args:
        store: The records.
        head: The session's; the recogniser and the file's name are put in.
        path: The recording.
        listener: Hears it.

    Returns:
        The session's number, and whether it was made now.

    Raises:
        ReadbackError: The recording cannot be heard to its end: nothing is kept of it.
    """
    from readback.replay.keeping import keep_replayed
    from readback.replay.kept import file_hash
    from readback.replay.model import ReplaySettings
    from readback.replay.recording import Replayer

    settings = ReplaySettings(authority=head.authority, callsign=head.callsign)
    replayed = Replayer(settings, listener).replay(path)
    if replayed.error is not None:
        raise InputError(replayed.error, "Nothing of it is kept.")
    if not replayed.transmissions:
        raise InputError(f"{path}: nobody speaks in it.", "Give a recording of an exchange.")
    replayed = replayed.model_copy(update={"content": file_hash(path)})
    return keep_replayed(store, head, path, replayed, listener.local)
