"""The report for the debrief: one HTML file with everything in it, sound included."""

import base64
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from itertools import pairwise
from typing import Any

from readback.escaping import escape
from readback.judging.model import Finding, Outcome, Said, Severity, Status
from readback.measure.rates import Measured
from readback.phraseology.model import Span
from readback.records import picture
from readback.records.describing import (
    describe_corrected,
    describe_element,
    describe_head,
    describe_rate,
    describe_time,
)
from readback.records.model import KeptExchange, KeptSession, KeptTransmission
from readback.records.practice import Practice
from readback.records.progress import answer_time
from readback.records.ramp import ramp_history
from readback.records.training import Trained, choose_drills
from readback.records.trust import EngineTrust

SIGNS = {
    Status.CORRECT: "✓",
    Status.WRONG: "✗",
    Status.MISSING: "–",
    Status.NOT_ISSUED: "+",
    Status.NOT_CERTAIN: "?",
}
OUTCOME_SIGNS = {
    Outcome.CORRECT: "✓",
    Outcome.INCORRECT: "✗",
    Outcome.INCOMPLETE: "–",
    Outcome.SAY_AGAIN: "?",
}
CAUTIONS = (
    "Training aid, not for operational use: local procedures, the aerodrome's charts and licensed"
    " instructors come first.",
    "A recogniser mishears. Listen before you hold a mistake against anybody; an instructor can"
    " correct what was heard and judged.",
    "It judges words, not pronunciation or fluency, and gives no level of language proficiency.",
    "A voice is personal data: pass this file on only to those who may hear it, and delete it when"
    " its time is over. Deleting the record does not delete this file.",
)

_Audio = Callable[[int, int], bytes | None]


def render_debrief(
    session: KeptSession,
    *,
    audio: _Audio,
    practice: Sequence[Practice] = (),
    drills: Mapping[str, frozenset[Trained]] | None = None,
    measured: Measured | None = None,
    trust: EngineTrust | None = None,
) -> str:
    """Write the report; it needs no network and no script, and prints on A4 and Letter.

    Args:
        session: What was kept.
        audio: Gives the FLAC by session and transmission, as `Store.audio`.
        practice: What to practise next, the most urgent first.
        drills: What each drill trains, as `what_drills_train` gives it.
        measured: How often recognisers were wrong when they were measured; None: not said.
        trust: How often people corrected this recogniser, in the sessions of this instructor where
            one is named; None: not said.

    Returns:
        The HTML, UTF-8.
    """
    from jinja2 import Environment, PackageLoader, StrictUndefined
    from markupsafe import Markup

    def harmless(value: object) -> object:
        return escape(value) if isinstance(value, str) and not isinstance(value, Markup) else value

    environment = Environment(
        loader=PackageLoader("readback.records"),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=harmless,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["element"] = lambda one: describe_element(*one)
    environment.filters["corrected"] = describe_corrected
    environment.filters["rate"] = describe_rate
    return environment.get_template("debrief.html.j2").render(
        _content(session, audio),
        practice=practice,
        drills=choose_drills(
            [(one.call, one.element) for one in practice if one.missed], drills or {}
        ),
        measured=measured,
        rates=measured and measured.engines.get(session.head.engine or ""),
        trust=trust,
    )


def marked_words(
    said: Said, findings: Sequence[Finding], side: str
) -> list[tuple[str, Status | None]]:
    """Cut one line at its mismatches.

    Args:
        said: The line.
        findings: The verdict's.
        side: ``"instruction"`` or ``"readback"``.

    Returns:
        Words and what is wrong with them, None where nothing is; the shortest of marks that lie
        over one another.
    """
    wanted = [
        (span, finding.status)
        for finding in findings
        if (span := getattr(finding, f"{side}_span")) is not None
        and span[0] < span[1]
        and finding.severity is not Severity.ADVISORY
        and finding.status is not Status.CORRECT
    ]
    chosen: dict[Span, Status] = {}
    for span, status in sorted(wanted, key=lambda mark: mark[0][1] - mark[0][0]):
        if all(span[1] <= other[0] or other[1] <= span[0] for other in chosen):
            chosen[span] = status
    words = [word.word for word in said.words]
    edges = sorted({0, len(words), *(edge for span in chosen for edge in span)})
    return [(" ".join(words[slice(*span)]), chosen.get(span)) for span in pairwise(edges)]


def _content(session: KeptSession, audio: _Audio) -> dict[str, Any]:
    clips = {
        kept.number: audio(session.id, kept.number)
        for kept in session.transmissions
        if kept.audio_bytes
    }
    ramp = ramp_history(session)
    in_exchanges = {
        number for one in session.exchanges for number in (one.instruction, one.readback)
    }
    return {
        "session": session,
        "facts": list(describe_head(session)),
        "remarks": session.head.remarks.splitlines(),
        "signs": {status.value: sign for status, sign in SIGNS.items()},
        "outcome_signs": {outcome.value: sign for outcome, sign in OUTCOME_SIGNS.items()},
        "errors": _errors(session),
        "overruled": [one for one in session.exchanges if one.overruled],
        "strips": picture.draw_timeline(session, clips.get, ramp),
        "ramp": ramp,
        "picture": picture,
        "exchanges": [_exchange(session, one, clips) for one in session.exchanges],
        "others": [
            _transmission(kept, clips)
            for kept in session.transmissions
            if kept.number not in in_exchanges
        ],
        "sounds": sum(bool(clip) for clip in clips.values()),
        "audio_kib": sum(len(clip) for clip in clips.values() if clip) / 1024,
        "cautions": CAUTIONS,
    }


def _errors(session: KeptSession) -> list[tuple[str, int, str]]:
    """Count by kind of error, and name the elements concerned."""
    counts: Counter[Status] = Counter()
    elements: dict[Status, dict[str, None]] = {}
    for exchange in session.exchanges:
        for finding in () if exchange.overruled else exchange.verdict.mistakes:
            counts[finding.status] += 1
            name = describe_element(finding.call, finding.element)
            elements.setdefault(finding.status, {})[name] = None
    return [
        (status.value, counts[status], ", ".join(elements[status]))
        for status in Status
        if counts[status]
    ]


def _exchange(
    session: KeptSession, exchange: KeptExchange, clips: dict[int, bytes | None]
) -> dict[str, Any]:
    verdict = exchange.verdict
    sides = []
    for name, number, said in (
        ("instruction", exchange.instruction, verdict.instruction),
        ("readback", exchange.readback, verdict.readback),
    ):
        kept = None if number is None else _transmission(session.transmission(number), clips)
        words = marked_words(said, () if exchange.overruled else verdict.findings, name)
        sides.append({"name": name, "words": words, "kept": kept})
    return {
        "kept": exchange,
        "sides": sides,
        "findings": verdict.mistakes,
        "notes": [one for one in verdict.findings if one.severity is Severity.ADVISORY],
        "seconds_to_answer": answer_time(session, exchange),
    }


def _transmission(kept: KeptTransmission, clips: dict[int, bytes | None]) -> dict[str, Any]:
    clip = clips.get(kept.number)
    return {
        "number": kept.number,
        "station": kept.speaker or picture.NOBODY,
        "start": None if kept.current.start is None else describe_time(kept.current.start),
        "text": kept.current.text or "(not understood)",
        "original": kept.original.text if kept.corrected else None,
        "audio": base64.b64encode(clip).decode("ascii") if clip else None,
        "kib": kept.audio_bytes / 1024,
    }
