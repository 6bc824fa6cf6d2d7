"""The table of the shipped drills (``docs/drill_catalogue.md``), made from their files."""

import sys
from collections.abc import Iterator, Mapping
from pathlib import Path

from readback.drills.files import find_drills, load_drill
from readback.drills.model import Drill, Setting

_HEAD = """\
<!-- Made by `python -m readback.drills.catalogue docs/drill_catalogue.md`; do not edit by hand. -->

# Drills

Training aid, not for operational use: local procedures, the aerodrome's charts and licensed
instructors come first.

The drills of `grammars/drills`; operators and aerodrome are fictional. `readback practise NAME`
plays one, `readback drills show NAME` writes out one run. The first seat is taken unless another is
asked for. After a source stands how it was seen: `seen`, `seen (quoted)` in another public text, or
`from memory`; `common practice, no source` means that no published text was found. How to write
one: `drills.md`.
"""
_AIRCRAFT = {
    "twin_narrow": "twin narrow-body",
    "twin_wide": "twin wide-body",
    "four_engine": "four engines",
}


def render_catalogue(drills: Mapping[str, Drill]) -> str:
    """Write the table of drills in Markdown, one row each, and their sources under it."""
    return "\n".join([_HEAD, *_drills(drills), "", *_sources(drills), ""])


def _drills(drills: Mapping[str, Drill]) -> Iterator[str]:
    yield "| drill | what it trains | seats | setting | events | drawn | steps |"
    yield "|---|---|---|---|---|---|---|"
    for name, drill in drills.items():
        cells = (
            f"`{name}`",
            f"**{drill.title}.** {drill.purpose}",
            ", ".join(seat.replace("_", " ") for seat in drill.seats),
            _setting(drill.setting),
            "; ".join(_events(drill)) or "–",
            ", ".join(_drawn(drill)) or "–",
            str(len(drill.steps) + sum(len(branch.steps) for branch in drill.branches.values())),
        )
        yield f"| {' | '.join(cells)} |"


def _setting(setting: Setting) -> str:
    tow = "tow bar" if setting.tow_bar else "no tow bar"
    headset = "no headset" if setting.headset == "none" else f"{setting.headset} headset"
    parts = [_AIRCRAFT[setting.aircraft], setting.weather.replace("_", " "), tow, headset]
    if setting.slope != "level":
        parts.append(setting.slope)
    parts += [one.replace("_", " ") for one in setting.nearby]
    return ", ".join([*parts, setting.authority.upper()])


def _events(drill: Drill) -> Iterator[str]:
    for branch in drill.branches.values():
        often = "" if branch.chance == 1 else f" ({branch.chance:.0%})"
        yield f"{branch.event.replace('_', ' ')}{often}"
    steps = [*drill.steps, *(step for branch in drill.branches.values() for step in branch.steps)]
    planted = sum(step.answer is not None and step.answer.fault is not None for step in steps)
    if planted:
        yield f"wrong readbacks to catch: {planted}"


def _drawn(drill: Drill) -> Iterator[str]:
    """Name the elements whose values the seed draws, each once."""
    drawn = [value.element for value in drill.values.values() if value.value is None]
    return (element.replace("_", " ") for element in dict.fromkeys(drawn))


def _sources(drills: Mapping[str, Drill]) -> Iterator[str]:
    yield "| source | drills |"
    yield "|---|---|"
    used: dict[str, list[str]] = {}
    for name, drill in drills.items():
        for source in dict.fromkeys(map(str, drill.sources.values())):
            used.setdefault(source, []).append(f"`{name}`")
    for source in sorted(used):
        yield f"| {source} | {', '.join(used[source])} |"


def main(arguments: list[str] | None = None) -> int:
    """Write the table: ``python -m readback.drills.catalogue docs/drill_catalogue.md``."""
    (path,) = sys.argv[1:] if arguments is None else arguments
    drills = {name: load_drill(file) for name, file in find_drills().items()}
    Path(path).write_text(render_catalogue(drills), encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
