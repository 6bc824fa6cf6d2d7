"""A bar of progress with the time left, on a terminal only."""

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from readback.escaping import escape

Advance = Callable[[float, str], None]
"""Takes how many recordings are done, parts of one included, and what is being heard."""


@contextmanager
def progress_bar(total: int) -> Iterator[Advance]:
    """Show a bar on standard error while recordings are heard; nothing where that is no terminal.

    Args:
        total: How many recordings there are.
    """
    if not sys.stderr.isatty():
        yield lambda done, name: None
        return
    from rich.console import Console
    from rich.progress import (
        BarColumn,
        Progress,
        TaskProgressColumn,
        TextColumn,
        TimeElapsedColumn,
        TimeRemainingColumn,
    )

    bar = Progress(
        # Names of files come from outside: no markup.
        TextColumn("{task.description}", markup=False),
        BarColumn(),
        TaskProgressColumn(),
        TimeElapsedColumn(),
        TextColumn("left"),
        TimeRemainingColumn(),
        console=Console(stderr=True),
        transient=True,
        redirect_stdout=False,
        redirect_stderr=False,
    )
    with bar:
        task = bar.add_task("hearing", total=total)

        def advance(done: float, name: str) -> None:
            bar.update(task, completed=done, description=escape(name))

        yield advance
