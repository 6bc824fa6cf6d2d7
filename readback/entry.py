"""The program's start, which loads nothing: Ctrl-C while the rest loads ends it in one line too."""

import sys

_STOPPED = 130
"""As `readback.cli.STOPPED`, which is not loaded yet."""


def main() -> int:
    """Load the command line and run it; see `readback.cli.main` for the status."""
    try:
        from readback.cli import main as run

        return run()
    except KeyboardInterrupt:
        print("readback: stopped.", file=sys.stderr)
        return _STOPPED
