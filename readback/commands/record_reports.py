"""Progress on a terminal, and the report for the debrief."""

import argparse
import json
from collections.abc import Iterator
from typing import TYPE_CHECKING

from readback.commands.terminal import Piece, Terminal, escape, json_writer
from readback.errors import InputError, ReadbackError
from readback.records.describing import describe_element, describe_share, describe_trust

if TYPE_CHECKING:
    from readback.records.practice import Practice
    from readback.records.progress import Progress
    from readback.records.store import Store


def show_progress(store: "Store", arguments: argparse.Namespace) -> int:
    """Print progress of a trainee or a group, trust in the recognisers and what to practise."""
    from readback.records.practice import plan_practice
    from readback.records.progress import measure_progress, measure_trust

    sessions = list(store.sessions(trainee=arguments.trainee, group=arguments.group))
    if not sessions:
        raise InputError("There are no such sessions.", "See readback records list.")
    progress = measure_progress(sessions)
    trust = measure_trust(sessions)
    # A schedule is one person's.
    single = len({session.head.trainee for session in sessions}) == 1
    plan = plan_practice(sessions, store.today, drills=calls_of_drills()) if single else ()
    if arguments.json:
        document = {
            "progress": progress.model_dump(mode="json"),
            "recognisers": {name: one.model_dump(mode="json") for name, one in trust.items()},
            "practice": [one.model_dump(mode="json") for one in plan],
        }
        json_writer()(json.dumps(document, indent=2, ensure_ascii=False))
        return 0
    terminal = Terminal.of()
    for indent, text in (*_progress(progress), *_practice(plan)):
        for line in terminal.lines([Piece(text)], indent, indent + "    "):
            print(line)
    for name, one in trust.items():
        text = f"{escape(name)}: {describe_trust(one)}"
        for line in terminal.lines([Piece(text)], "", "    "):
            print(line)
    return 0


def calls_of_drills() -> dict[str, frozenset[str]]:
    """Tell which calls each drill trains; a drill that cannot be read trains none."""
    from readback.drills.files import find_drills, load_drill

    found = {}
    for name, path in find_drills().items():
        try:
            drill = load_drill(path)
        except ReadbackError:
            # "readback drills validate" tells what is wrong with it.
            continue
        branches = (step for branch in drill.branches.values() for step in branch.steps)
        found[name] = frozenset(
            said.call for step in (*drill.steps, *branches) for said in step.say
        )
    return found


def export_html(store: "Store", session_id: int) -> Iterator[str]:
    """Give the report of a session, piece by piece."""
    from readback.records.debrief import render_debrief
    from readback.records.practice import plan_practice
    from readback.records.progress import measure_trust

    session = store.load(session_id)
    own = list(store.sessions(trainee=session.head.trainee))
    engine = session.head.engine
    trust = measure_trust(store.sessions()).get(engine) if engine is not None else None
    plan = plan_practice(own, store.today, drills=calls_of_drills())
    yield render_debrief(session, audio=store.audio, practice=plan, trust=trust)


def _progress(progress: "Progress") -> Iterator[tuple[str, str]]:
    yield "", f"right: {describe_share(progress.exchanges)}"
    kinds = ", ".join(f"{kind} {count}" for kind, count in progress.error_kinds.items() if count)
    yield "", f"errors: {kinds or 'none'}"
    for element in progress.elements:
        name = describe_element(element.call, element.element)
        others = ", ".join(f"{kind} {count}" for kind, count in element.statuses.items())
        text = f"{name}: right {describe_share(element.right)}"
        yield "  ", f"{text}; {others}" if others else text
    for title, groups in (("authority", progress.authorities), ("noise", progress.noises)):
        for name, share in groups.items():
            yield "", f"{title} {escape(name)}: right {describe_share(share)}"
    for day in progress.trend:
        text = f"{day.training_date}, session {day.session}: right {describe_share(day.right)}"
        if day.seconds_to_answer is not None:
            text += f", answers after {day.seconds_to_answer:.1f} s (median)"
        yield "", text


def _practice(plan: "tuple[Practice, ...]") -> Iterator[tuple[str, str]]:
    if plan:
        yield "", "to practise (FSRS; an order of urgency, not measured on readbacks):"
    for one in plan:
        name = describe_element(one.call, one.element)
        where = f"; drills: {', '.join(one.drills)}" if one.drills else ""
        last = "missed" if one.missed else "right"
        yield "  ", f"{name}: due {one.due}, {last} on {one.last}{where}"
