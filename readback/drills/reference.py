"""The table of interlocks (``docs/interlocks.md``), made from their rules."""

import sys
from collections.abc import Iterator
from pathlib import Path

from readback.drills.ramp_rules import Conditions, Interlock, RampRules, Trigger, load_ramp_rules
from readback.drills.signals import load_signals

_HEAD = """\
<!-- Made by `python -m readback.drills.reference docs/interlocks.md`; do not edit by hand. -->

# Interlocks of the ramp

Training aid, not for operational use: local procedures, the aerodrome's charts and licensed
instructors come first.

What must hold before a call, from `grammars/rules/interlocks.yaml`. A broken interlock is a
critical finding with the sentence that broke it. After a source stands how it was seen: `seen`,
`seen (quoted)` in another public text, or `from memory`: check that before a claim rests on it.
`common practice, no source` means that no published text was found.
"""


def render_interlocks(rules: RampRules) -> str:
    """Write the tables of interlocks, cautions and hand signals in Markdown."""
    return "\n".join([_HEAD, *_interlocks(rules), "", *_cautions(rules), "", *_signals(), ""])


def _interlocks(rules: RampRules) -> Iterator[str]:
    yield "| interlock | before | counts | must hold | rule | source |"
    yield "|---|---|---|---|---|---|"
    for name, one in rules.interlocks.items():
        before = "; ".join(map(_trigger, one.before))
        cells = (name, before, _counts(one), _needs(one), one.says, rules.source(one.source))
        yield f"| {' | '.join(cells)} |"


def _counts(interlock: Interlock) -> str:
    return "; ".join([*_conditions(interlock.where), *_conditions(interlock.when)]) or "always"


def _needs(interlock: Interlock) -> str:
    if interlock.check is not None:
        return f"check: {interlock.check.replace('_', ' ')}"
    return "; ".join(_conditions(interlock.needs))


def _conditions(conditions: Conditions) -> Iterator[str]:
    for name, values in conditions.items():
        yield f"{name.replace('_', ' ')}: {' or '.join(value or 'none' for value in values)}"


def _trigger(trigger: Trigger) -> str:
    what = [name.replace("_", " ") for name in trigger.calls]
    what += [f"signal {name.replace('_', ' ')}" for name in trigger.signals]
    if trigger.any_call_but:
        kind = "/".join(trigger.families) or "any"
        others = ", ".join(name.replace("_", " ") for name in trigger.any_call_but)
        what.append(f"{kind} call other than {others}")
    carried = [f"{name.replace('_', ' ')} {'/'.join(v)}" for name, v in trigger.values.items()]
    text = ", ".join(what) + (f" ({', '.join(carried)})" if carried else "")
    who = "/".join(station.replace("_", " ") for station in trigger.by)
    return f"{text} by {who}" if who else text


def _cautions(rules: RampRules) -> Iterator[str]:
    yield "## Cautions"
    yield ""
    yield "Told at a call; nothing is judged."
    yield ""
    yield "| at | counts | caution | source |"
    yield "|---|---|---|---|"
    for one in rules.cautions:
        counts = "; ".join(_conditions(one.where)) or "always"
        yield f"| {_trigger(one.on)} | {counts} | {one.says} | {rules.source(one.source)} |"


def _signals() -> Iterator[str]:
    yield "## Hand signals"
    yield ""
    yield "From `grammars/hand_signals.yaml`; the drawings are our own."
    for signal in load_signals().values():
        yield ""
        yield f"**{signal.name}** ({signal.who.replace('_', ' ')}): {signal.meaning} {signal.says}"
        yield f"*{signal.source}*"
        yield ""
        yield "```text"
        yield from (line.rstrip() for line in signal.drawing)
        yield "```"


def main(arguments: list[str] | None = None) -> int:
    """Write the tables: ``python -m readback.drills.reference docs/interlocks.md``."""
    (path,) = sys.argv[1:] if arguments is None else arguments
    Path(path).write_text(render_interlocks(load_ramp_rules()), encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
