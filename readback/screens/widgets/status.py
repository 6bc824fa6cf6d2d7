"""Always in sight: what the microphone, the recogniser and the voice do, and how loud it is."""

from textual.content import Content
from textual.widgets import Static

from readback.commands.terminal import escape
from readback.speech.level import LOWEST_DBFS

_BARS = 8
_QUIET_DBFS, _LOUD_DBFS = -45.0, -6.0
_NAME = 12


class StatusLine(Static):
    """One line: microphone, recogniser, voice, level."""

    def __init__(self) -> None:
        super().__init__("", id="status", markup=False)
        self._drawn: tuple[str, ...] = ()
        self.doing = "ready"
        """In one word: ``ready``, ``starting``, ``listening``, ``speaking``, ``judging``."""

    def draw(self, microphone: str, recogniser: str, voice: str, level_dbfs: float) -> None:
        """Draw it anew, if anything is other than before."""
        level = f"{level_bar(level_dbfs)}  " if self.doing == "listening" else ""
        wanted = (self.doing, microphone, recogniser, voice, level)
        if wanted == self._drawn:
            return
        self._drawn = wanted
        busy = "bold reverse" if self.doing in ("listening", "speaking") else "bold"
        names = zip(("mic", "ears", "voice"), (microphone, recogniser, voice), strict=True)
        self.update(
            Content.assemble(
                (f" {self.doing:<9} ", busy),
                f" {level}",
                "  ".join(f"{part}: {_short(name)}" for part, name in names),
            )
        )


def level_bar(level_dbfs: float) -> str:
    """Draw a level: bars, and a word where it is not right."""
    share = (level_dbfs - LOWEST_DBFS) / -LOWEST_DBFS
    full = min(_BARS, max(0, round(share * _BARS)))
    word = ""
    if level_dbfs > _LOUD_DBFS:
        word = " loud"
    elif level_dbfs < _QUIET_DBFS:
        word = " low"
    return "▮" * full + "▯" * (_BARS - full) + word


def _short(name: str) -> str:
    shown = escape(name)
    return shown if len(shown) <= _NAME else shown[: _NAME - 1] + "…"
