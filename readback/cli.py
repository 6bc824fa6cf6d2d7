"""The command line: one place that reads arguments, catches errors and returns the exit status."""

import argparse
import errno
import os
import sys
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path
from typing import NoReturn, TextIO

from readback import __version__
from readback.commands import (
    check,
    demo,
    doctor,
    drills,
    listen,
    measure,
    practise,
    records,
    replay,
    rules,
)
from readback.commands.help_lines import HelpFormatter
from readback.commands.terminal import tell
from readback.errors import InputError, ReadbackError
from readback.log import keep_log

COMMANDS = (demo, check, listen, drills, practise, replay, records, measure, rules, doctor)
"""The modules of the commands, in the order in which the help lists them."""

ALL_CORRECT, NOT_CORRECT, BAD_INPUT, STOPPED = 0, 1, 2, 130
"""Exit statuses; the last is what shells give a program stopped with Ctrl-C."""

_OUTPUT_FAULTS = {errno.ENOSPC, errno.EIO, errno.EFBIG, errno.EDQUOT, errno.EBADF}


class _Parser(argparse.ArgumentParser):
    """Reports a wrong argument as every other wrong input is reported."""

    def error(self, message: str) -> NoReturn:
        command = self.prog
        raise InputError(f"{message[:1].lower()}{message[1:]}.", f'See "{command} --help".')


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command.

    Args:
        arguments: Those after the program's name; None takes the process's own.

    Returns:
        0: all verdicts are correct. 1: at least one is not. 2: bad input or set-up, told in one
        line on standard error. 130: stopped with Ctrl-C.
    """
    _prepare_output()
    keep_log()
    try:
        try:
            parsed = _parse(arguments)
            status: int = _without_command() if parsed.run is None else parsed.run(parsed)
        except SystemExit as end:
            # argparse ends so after --help and --version.
            status = int(end.code or 0)
        sys.stdout.flush()
        return status
    except ReadbackError as error:
        return _fail(str(error))
    except KeyboardInterrupt:
        tell("stopped.")
        return STOPPED
    except BrokenPipeError:
        # Whoever read the output wants no more of it: no message, as with any filter.
        _discard_output()
        return BAD_INPUT
    except OSError as error:
        if error.errno not in _OUTPUT_FAULTS:
            raise
        _discard_output()
        return _fail(f"the output cannot be written ({error.strerror}). Write it elsewhere.")


def _parse(arguments: Sequence[str] | None) -> argparse.Namespace:
    parsed, unknown = make_parser().parse_known_args(arguments)
    if unknown:
        command = " ".join(filter(None, ("readback", parsed.command)))
        what = "unrecognized arguments: " + " ".join(unknown)
        raise InputError(f"{what}.", f'See "{command} --help".')
    return parsed


def _without_command() -> int:
    """Open the screens at their start; say what there is where no terminal can show them."""
    if all(stream is not None and stream.isatty() for stream in (sys.stdin, sys.stdout)):
        # Imported here: no other command needs the screens.
        from readback.commands.screens import open_screens

        return open_screens()
    names = ", ".join(command.NAME for command in COMMANDS)
    raise InputError("No command is given.", f'Give one of {names}, or "--help".')


def make_parser() -> argparse.ArgumentParser:
    """Make the parser of all commands; each command's module adds its own."""
    parser = _Parser(
        prog="readback",
        description="Practise, check and debrief readbacks, offline.",
        epilog="A training aid, not for operational use. Exit status: 0 all verdicts are correct,"
        " 1 at least one is not, 2 bad input or set-up.",
        allow_abbrev=False,
    )
    parser.add_argument("--version", action="version", version=f"readback {__version__}")
    parser.set_defaults(run=None, command=None)
    subparsers = parser.add_subparsers(title="commands", metavar="COMMAND", parser_class=_Parser)
    for command in COMMANDS:
        own = subparsers.add_parser(
            command.NAME,
            help=command.SUMMARY,
            description=command.DESCRIPTION,
            epilog=f"example:\n  {command.EXAMPLE}",
            formatter_class=HelpFormatter,
            allow_abbrev=False,
        )
        command.add_arguments(own)
        own.set_defaults(run=command.run, command=command.NAME)
    return parser


def _fail(message: str) -> int:
    tell(message)
    return BAD_INPUT


def _prepare_output() -> None:
    """Have both streams, and show what their encoding lacks as an escape instead of failing."""
    # Python has none where the caller closed them, as under pythonw.
    sys.stdout = sys.stdout or _nowhere()
    sys.stderr = sys.stderr or _nowhere()
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="backslashreplace")


def _nowhere() -> TextIO:
    return Path(os.devnull).open("w", encoding="utf-8")


def _discard_output() -> None:
    """Let the interpreter's last flush of a closed pipe go nowhere."""
    with suppress(OSError, ValueError):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, sys.stdout.fileno())
        os.close(nowhere)
