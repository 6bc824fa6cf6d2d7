"""The arguments of ``readback records``, one function for each action."""

import argparse
from datetime import date
from pathlib import Path

from readback.commands.hearing import add_engine_arguments, add_local_argument

RESULTS = ("passed", "not passed")
FORMATS = ("csv", "jsonl", "vtt", "html")


def with_json(parser: argparse.ArgumentParser) -> argparse.ArgumentParser:
    """Add ``--json``."""
    parser.add_argument("--json", action="store_true", help="print JSON, for programs")
    return parser


def add_people(parser: argparse.ArgumentParser) -> None:
    """Add the options that choose whose sessions."""
    parser.add_argument("--trainee", metavar="NAME", help="only this one's")
    parser.add_argument("--group", metavar="NAME", help="only this group's")


def add_adding(parser: argparse.ArgumentParser) -> None:
    """Add what ``add`` takes."""
    parser.add_argument("files", nargs="+", type=Path, metavar="FILE", help="recordings")
    add_session_details(parser, required=True)
    parser.add_argument("--drill", default="", metavar="TEXT")
    parser.add_argument("--authority", default="icao", metavar="NAME", help="whose rules count")
    parser.add_argument("--callsign", metavar="NAME", help="addressed, if instructions have none")
    add_local_argument(parser)
    add_engine_arguments(parser)


def add_session_details(parser: argparse._ActionsContainer, *, required: bool) -> None:
    """Add what a session is about, apart from how it is heard and judged.

    Args:
        parser: Or a group of one.
        required: Whether trainee and training must be given.
    """
    parser.add_argument("--trainee", required=required, metavar="NAME")
    parser.add_argument(
        "--training", required=required, metavar="NAME", help="name of the training"
    )
    for name in ("organisation", "instructor", "group", "remarks"):
        parser.add_argument(f"--{name}", default="", metavar="TEXT")
    for name in ("competency", "topic"):
        parser.add_argument(f"--{name}", action="append", default=[], metavar="TEXT")
    parser.add_argument("--date", type=_day, metavar="YYYY-MM-DD", help="of the training; today")
    parser.add_argument("--assessed", type=_day, metavar="YYYY-MM-DD", help="date of assessment")
    parser.add_argument("--noise", default="", metavar="TEXT", help="such as ramp, quiet room")
    parser.add_argument(
        "--pass-mark", type=float, metavar="SHARE", help="least share of right readbacks: 0.8"
    )
    keep = parser.add_mutually_exclusive_group()
    keep.add_argument("--keep-until", type=_day, metavar="YYYY-MM-DD", help="retention time")
    keep.add_argument(
        "--keep-months", type=_months, metavar="N", help="retention time from the training on"
    )
    parser.add_argument(
        "--consent", action="store_true", help="the person agreed that the voice is kept"
    )
    parser.add_argument("--result", choices=RESULTS, help="the instructor's; else by the pass mark")


def add_correcting(parser: argparse.ArgumentParser) -> None:
    """Add what ``correct`` takes."""
    parser.add_argument("session", type=int, metavar="SESSION")
    parser.add_argument("--transmission", type=int, metavar="N", help="what is corrected")
    kinds = parser.add_mutually_exclusive_group(required=True)
    kinds.add_argument("--words", metavar="TEXT", help="what was said")
    kinds.add_argument("--station", metavar="NAME", help="who said it")
    kinds.add_argument(
        "--answered-by", dest="pairing", metavar="N|nobody|none",
        help="what answered it; nobody; none: it is no instruction",
    )  # fmt: skip
    kinds.add_argument("--verdict", metavar="WORD", help="the verdict on its readback")
    kinds.add_argument("--result", choices=RESULTS, help="the instructor's")
    kinds.add_argument("--remarks", metavar="TEXT", help="of the instructor")
    kinds.add_argument(
        "--set", dest="details", action="append", type=_detail, metavar="FIELD=VALUE",
        help="a detail of the session, such as assessment-date=2026-03-02 or topics=push,start;"
        " may be given more than once",
    )  # fmt: skip
    parser.add_argument("--by", required=True, metavar="NAME", help="who corrects")
    parser.add_argument("--why", required=True, metavar="TEXT", help="the reason")


def add_exporting(parser: argparse.ArgumentParser) -> None:
    """Add what ``export`` takes."""
    parser.add_argument("sessions", nargs="*", type=int, metavar="SESSION", help="all without it")
    parser.add_argument(
        "--format", choices=FORMATS, default="csv", help="html is the report for the debrief"
    )
    parser.add_argument("--output", type=Path, metavar="FILE", help="a new file, yours alone")


def add_due(parser: argparse.ArgumentParser) -> None:
    """Add what ``due`` takes."""
    add_people(parser)
    parser.add_argument(
        "--interval",
        default="easa-ground-handling",
        metavar="NAME|MONTHS",
        help="easa-ground-handling (36 months), uk-aerodrome (12 months), or months of your own",
    )
    parser.add_argument(
        "--early", type=int, default=0, metavar="MONTHS", help="of an interval of your own"
    )


def _detail(text: str) -> tuple[str, str | list[str] | None]:
    name, sign, value = text.partition("=")
    if not sign:
        raise argparse.ArgumentTypeError(f"{text!r} has no '='")
    field = name.strip().replace("-", "_")
    if field in ("competencies", "topics"):
        return field, [part.strip() for part in value.split(",") if part.strip()]
    # What need not be there is taken away by giving nothing.
    unset = not value.strip() and field in ("assessment_date", "keep_until", "pass_mark")
    return field, None if unset else value


def _months(text: str) -> int:
    # More months than in a century are a slip of the hand.
    if text.isascii() and text.isdigit() and 1 <= int(text) <= 1200:
        return int(text)
    raise argparse.ArgumentTypeError(f"{text!r} is no number of months from 1 to 1200")


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise argparse.ArgumentTypeError(f"{text!r} is no date such as 2026-03-02") from error
