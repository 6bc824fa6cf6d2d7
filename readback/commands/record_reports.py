"""Progress and trust on a terminal, and the report for the debrief."""

import argparse
import json
from collections.abc import Iterator
from typing import TYPE_CHECKING

from readback.commands.record_tables import (
    NARROW,
    drill_lines,
    missed_lines,
    practice_lines,
    progress_lines,
    trust_lines,
)
from readback.commands.terminal import Terminal, json_writer
from readback.errors import InputError
from readback.escaping import escape_json

if TYPE_CHECKING:
    from readback.records.store import Store


def show_progress(store: "Store", arguments: argparse.Namespace) -> int:
    """Print progress of a trainee or a group, and what to practise."""
    from readback.records.practice import missed_in_group, plan_practice
    from readback.records.progress import measure_progress
    from readback.records.training import what_drills_train

    sessions = list(store.sessions(trainee=arguments.trainee, group=arguments.group))
    if not sessions:
        raise InputError("There are no such sessions.", "See readback records list.")
    progress = measure_progress(sessions)
    # A schedule is one person's.
    single = len(progress.trainees) == 1
    drills = what_drills_train()
    plan = plan_practice(sessions, store.today, drills=drills) if single else ()
    missed = missed_in_group(sessions, store.today)
    if arguments.json:
        document = {
            "progress": progress.model_dump(mode="json"),
            "practice": [one.model_dump(mode="json") for one in plan],
            "missed": [
                {"call": call, "element": element, "trainees": trainees}
                for (call, element), trainees in missed.items()
            ],
        }
        json_writer()(escape_json(json.dumps(document, indent=2, ensure_ascii=False)))
        return 0
    for line in progress_lines(progress):
        print(line)
    practice = practice_lines(plan, store.today) if single else missed_lines(missed)
    for line in (*practice, *drill_lines(missed, drills)):
        print(line)
    return 0


def show_trust(store: "Store", arguments: argparse.Namespace) -> int:
    """Print how often people corrected each recogniser, beside what was measured of it."""
    from readback.measure.rates import load_measured
    from readback.records.trust import measure_trust

    trust = measure_trust(store.sessions(instructor=arguments.instructor))
    if not trust:
        raise InputError(
            "No session there was heard by a recogniser.", "See readback records list."
        )
    measured = load_measured()
    if arguments.json:
        document = {
            "corrected": {name: one.model_dump(mode="json") for name, one in trust.items()},
            "measured": measured.model_dump(mode="json"),
        }
        json_writer()(escape_json(json.dumps(document, indent=2, ensure_ascii=False)))
        return 0
    for line in trust_lines(trust, measured, Terminal.of().width or NARROW):
        print(line)
    return 0


def export_html(store: "Store", session_id: int) -> Iterator[str]:
    """Give the report of a session, piece by piece."""
    from readback.measure.rates import load_measured
    from readback.records.debrief import render_debrief
    from readback.records.practice import plan_practice
    from readback.records.training import what_drills_train
    from readback.records.trust import measure_trust

    session = store.load(session_id)
    head = session.head
    own = list(store.sessions(trainee=head.trainee))
    drills = what_drills_train()
    corrected = store.sessions(instructor=head.instructor or None)
    yield render_debrief(
        session,
        audio=store.audio,
        practice=plan_practice(own, store.today, drills=drills),
        drills=drills,
        measured=load_measured(),
        trust=measure_trust(corrected).get(head.engine) if head.engine else None,
    )
