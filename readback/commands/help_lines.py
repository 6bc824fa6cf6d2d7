"""The lines of ``--help``, none wider than the terminal."""

import argparse
from textwrap import fill
from typing import Any


class HelpFormatter(argparse.RawDescriptionHelpFormatter):
    """Keeps the lines of a text as they are, but wraps those wider than the terminal."""

    def _fill_text(self, text: str, width: int, indent: str) -> str:
        return "\n".join(
            line
            if len(line) <= width or line.startswith(" ")
            else fill(line, width, initial_indent=indent, subsequent_indent=indent)
            for line in super()._fill_text(text, width, indent).splitlines()
        )

    def _format_usage(self, *arguments: Any) -> str:
        # Python 3.11 never breaks a group of options of which one is needed.
        lines = super()._format_usage(*arguments).splitlines()
        return "\n".join(part for line in lines for part in self._broken(line)) + "\n"

    def _broken(self, line: str) -> list[str]:
        """Break a line that is too wide between the options of a group."""
        if len(line) <= self._width:
            return [line]
        indent = " " * (len(line) - len(line.lstrip()) + 1)
        first, *others = line.split(" | ")
        broken = [first]
        for option in others:
            if len(f"{broken[-1]} | {option} |") > self._width:
                broken[-1] += " |"
                broken.append(indent + option)
            else:
                broken[-1] += f" | {option}"
        return broken
