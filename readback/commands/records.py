"""``readback records``: training records: kept, listed, corrected, exported, deleted."""

import argparse
import json
import os
import sys
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING

from readback.commands.help_lines import HelpFormatter
from readback.commands.record_arguments import (
    add_adding,
    add_correcting,
    add_due,
    add_exporting,
    add_people,
    with_json,
)
from readback.commands.terminal import escape, json_writer, tell
from readback.errors import InputError, ReadbackError
from readback.escaping import escape_json
from readback.records.private import create_private

if TYPE_CHECKING:
    from readback.records.correcting import Corrected
    from readback.records.intervals import Interval
    from readback.records.store import Store

NAME = "records"
SUMMARY = "training records: add, list, show, correct, export, delete, due, progress, trust"
DESCRIPTION = (
    "Training records: kept in one file that only you may read, or in a database by its URL. Voice"
    " is personal data: sound is kept only with --consent, and delete removes words and sound."
)
EXAMPLE = "readback records due --interval uk-aerodrome"
VARIABLE = "READBACK_RECORDS"
"""Environment variable with the path or the URL of the records."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add this command's arguments: one subcommand for each thing to do."""
    parser.set_defaults(action=None)
    actions = parser.add_subparsers(title="actions", metavar="ACTION")

    def action(name: str, run_action: Callable[..., int], help_: str) -> argparse.ArgumentParser:
        own = actions.add_parser(
            name,
            help=help_,
            description=f"{help_}.",
            formatter_class=HelpFormatter,
            allow_abbrev=False,
        )
        own.add_argument(
            "--records",
            metavar="PATH|URL",
            help=f"the records; else ${VARIABLE}, else among your data of readback",
        )
        own.set_defaults(action=run_action)
        return own

    add_adding(action("add", _add, "Hear recordings and keep them, one session each"))
    add_people(with_json(action("list", _list, "List the sessions")))
    shown = with_json(action("show", _show, "Show a session, its verdicts and corrections"))
    shown.add_argument("session", type=int, metavar="SESSION")
    add_correcting(
        action("correct", _correct, "Correct what was heard or judged; all is judged again")
    )
    add_exporting(
        action("export", _export, "Export sessions as CSV, JSON Lines, WebVTT or debrief")
    )
    deleted = action("delete", _delete, "Delete sessions; their numbers and the date stay")
    deleted.add_argument("sessions", nargs="*", type=int, metavar="SESSION")
    deleted.add_argument("--expired", action="store_true", help="those past their retention time")
    deleted.add_argument(
        "--sound-only", action="store_true", help="consent is withdrawn; the words stay"
    )
    add_due(with_json(action("due", _due, "Tell whose recurrent training falls due")))
    add_people(with_json(action("progress", _progress, "Show progress, and what to practise next")))
    trusted = with_json(action("trust", _trust, "Show how often people corrected each recogniser"))
    trusted.add_argument("--instructor", metavar="NAME", help="in this one's sessions only")
    saved = action("backup", _backup, "Copy the records into a new file")
    saved.add_argument("file", type=Path, metavar="FILE")
    restored = action("restore", _restore, "Put a backup in the place of the records")
    restored.add_argument("file", type=Path, metavar="FILE")
    restored.add_argument("--replace", action="store_true", help="even if sessions are lost")


def run(arguments: argparse.Namespace) -> int:
    """Do what is asked; see `readback.cli.main` for the status."""
    if arguments.action is None:
        raise InputError("records needs something to do.", 'See "readback records --help".')
    with open_records(arguments.records) as store:
        status: int = arguments.action(store, arguments)
        _tell_expired(store)
        return status


def open_records(where: str | None) -> "Store":
    """Open the records that are named, else those of `VARIABLE`, else this user's own."""
    from readback.records.store import Store

    return Store(where or os.environ.get(VARIABLE) or _own_file())


def _own_file() -> Path:
    from readback.data import user_data_folder

    return user_data_folder() / "records.sqlite3"


def _tell_expired(store: "Store") -> None:
    expired = store.expired()
    if expired:
        one = len(expired) == 1
        tell(
            f"{len(expired)} session{' is' if one else 's are'} past the retention time and not"
            f" shown. Delete {'it' if one else 'them'} with readback records delete --expired."
        )


def _print_json(document: object) -> int:
    json_writer()(escape_json(json.dumps(document, indent=2, ensure_ascii=False)))
    return 0


def _add(store: "Store", arguments: argparse.Namespace) -> int:
    from readback.commands.record_adding import add_recordings

    return add_recordings(store, arguments)


def _list(store: "Store", arguments: argparse.Namespace) -> int:
    from readback.commands.record_views import show_list

    sessions = store.sessions(trainee=arguments.trainee, group=arguments.group)
    if arguments.json:
        rows = [
            {"id": one.id, **one.head.model_dump(mode="json"), **one.score.model_dump(mode="json")}
            for one in sessions
        ]
        graves = [grave.model_dump(mode="json") for grave in store.tombstones()]
        return _print_json({"sessions": rows, "deleted": graves})
    return show_list(sessions, store.tombstones())


def _show(store: "Store", arguments: argparse.Namespace) -> int:
    from readback.commands.record_views import show_session

    session = store.load(arguments.session)
    if arguments.json:
        document = session.model_dump(mode="json")
        return _print_json({**document, "score": session.score.model_dump(mode="json")})
    return show_session(session)


def _correct(store: "Store", arguments: argparse.Namespace) -> int:
    from readback.commands.record_views import show_session
    from readback.records.model import CorrectionKind

    for kind in CorrectionKind:
        typed = getattr(arguments, kind.value)
        if typed is not None:
            break
    right: Corrected = typed
    if kind is CorrectionKind.PAIRING:
        right = _answered_by(typed)
    elif kind is CorrectionKind.DETAILS:
        right = dict(typed)
    whole = kind in (CorrectionKind.RESULT, CorrectionKind.REMARKS, CorrectionKind.DETAILS)
    session = store.correct(
        arguments.session,
        kind,
        None if whole else arguments.transmission,
        right,
        by=arguments.by,
        why=arguments.why,
    )
    return show_session(session)


def _answered_by(text: str) -> str | int | None:
    if text == "nobody":
        return None
    return int(text) if text.isascii() and text.isdigit() else text


def _export(store: "Store", arguments: argparse.Namespace) -> int:
    from readback.commands.record_reports import export_html
    from readback.records.exports import render_csv, render_json_lines, render_webvtt

    one_only = arguments.format in ("vtt", "html")
    if one_only and len(arguments.sessions) != 1:
        raise InputError(f"{arguments.format} holds one session.", "Give its number.")
    if arguments.format == "html" and arguments.output is None and sys.stdout.isatty():
        raise InputError("The report is no text to read here.", "Give --output FILE.html.")
    # Looked up before a file is made.
    sessions = [store.load(number) for number in arguments.sessions] or store.sessions()
    if arguments.format == "html":
        return write_private(export_html(store, arguments.sessions[0]), arguments.output)
    if arguments.format == "vtt":
        return write_private([render_webvtt(one) for one in sessions], arguments.output)
    render = render_csv if arguments.format == "csv" else render_json_lines
    return write_private(render(sessions), arguments.output)


def write_private(parts: Iterable[str], path: Path | None) -> int:
    """Write to a new file of the owner's alone, or to standard output; line ends stay as given."""
    if path is None:
        reconfigure = getattr(sys.stdout, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(encoding="utf-8", newline="")
        for part in parts:
            sys.stdout.write(part)
        return 0
    handle = create_private(path)
    try:
        with os.fdopen(handle, "w", encoding="utf-8", newline="") as file:
            file.writelines(parts)
    except OSError as error:
        path.unlink(missing_ok=True)
        raise InputError(
            f"{path}: cannot be written ({error.strerror}); nothing is left of it.", "Give another."
        ) from error
    except ReadbackError:
        path.unlink(missing_ok=True)
        raise
    print(f"{escape(str(path))}: {path.stat().st_size / 1024:.0f} KiB")
    return 0


def _delete(store: "Store", arguments: argparse.Namespace) -> int:
    from readback.records.removal import delete_sessions, delete_sound

    wanted = {*arguments.sessions, *(store.expired() if arguments.expired else ())}
    if not wanted and not arguments.expired:
        raise InputError("delete needs sessions.", "Give their numbers, or --expired.")
    remove = delete_sound if arguments.sound_only else delete_sessions
    what = "sound deleted" if arguments.sound_only else "deleted"
    deleted = remove(store, wanted)
    print(f"{what}: {', '.join(map(str, deleted)) or 'nothing'}")
    return 0


def _due(store: "Store", arguments: argparse.Namespace) -> int:
    from readback.commands.record_views import show_due
    from readback.records.intervals import find_due

    interval = _interval(arguments.interval, arguments.early)
    due = find_due(store.sessions(trainee=arguments.trainee, group=arguments.group), interval)
    if arguments.json:
        rows = [
            {**one.model_dump(mode="json"), "overdue": one.is_overdue(store.today)} for one in due
        ]
        return _print_json({"interval": interval.model_dump(mode="json"), "due": rows})
    return show_due(due, interval, store.today)


def _interval(text: str, early_months: int) -> "Interval":
    from readback.records.intervals import INTERVALS, own_interval

    if text in INTERVALS:
        return INTERVALS[text]
    # More months than in a century are a slip of the hand.
    if text.isascii() and text.isdigit() and 1 <= int(text) <= 1200:
        if not 0 <= early_months < int(text):
            raise InputError("--early is longer than the interval.", "Give fewer months.")
        return own_interval(int(text), early_months)
    raise InputError(f"{text!r} is no interval.", f"Give {', '.join(INTERVALS)}, or months.")


def _progress(store: "Store", arguments: argparse.Namespace) -> int:
    from readback.commands.record_reports import show_progress

    return show_progress(store, arguments)


def _trust(store: "Store", arguments: argparse.Namespace) -> int:
    from readback.commands.record_reports import show_trust

    return show_trust(store, arguments)


def _backup(store: "Store", arguments: argparse.Namespace) -> int:
    from readback.records.backups import back_up

    back_up(store, arguments.file)
    print(f"{escape(str(arguments.file))}: {arguments.file.stat().st_size / 1024:.0f} KiB")
    return 0


def _restore(store: "Store", arguments: argparse.Namespace) -> int:
    from readback.records.backups import restore

    again = restore(store, arguments.file, replace=arguments.replace)
    print(f"restored: {escape(str(arguments.file))}; deleted again: {again} sessions")
    return 0
