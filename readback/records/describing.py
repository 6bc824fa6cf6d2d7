"""What is known of a session, in words, for the terminal and for the report."""

from collections.abc import Iterator

from pydantic import JsonValue

from readback.measure.statistics import Share
from readback.records.model import Correction, KeptSession

_RECORDING = ("recording", "content")
"""Settings that are shown apart."""
_DIGITS = 12
"""Of a hash: enough to tell files apart by eye."""


def describe_head(session: KeptSession) -> Iterator[tuple[str, str]]:
    """Name what is known of a session; what is not is left out."""
    head = session.head
    fields = (
        ("training", head.training),
        ("organisation", head.organisation),
        ("competencies", ", ".join(head.competencies)),
        ("topics", ", ".join(head.topics)),
        ("date of training", head.training_date.isoformat()),
        ("date of assessment", head.assessment_date.isoformat() if head.assessment_date else ""),
        ("trainee", head.trainee),
        ("group", head.group),
        ("instructor", head.instructor),
        ("authority", head.authority),
        ("callsign", head.callsign or ""),
        ("drill", _and_version(head.drill, head.drill_hash)),
        ("grammar version", head.grammar_version),
        ("rules version", head.rules_version),
        ("local wording", head.local_version or ""),
        ("program version", head.program_version),
        ("heard by", _and_version(head.engine, head.engine_model) or "nobody: typed"),
        ("least certainty", _least_certainty(session) if head.engine else ""),
        ("recording", _and_version(head.recording, _short(head.settings.get("content")))),
        ("settings", _settings(session)),
        ("voice kept", "yes, with consent" if head.consent else "no"),
        ("keep until", head.keep_until.isoformat() if head.keep_until else ""),
        ("pass mark", "" if head.pass_mark is None else f"{head.pass_mark:.0%}"),
        ("result", describe_score(session)),
    )
    return ((name, value) for name, value in fields if value)


def describe_score(session: KeptSession) -> str:
    """Say how many exchanges were right, and whether that passes."""
    score = session.score
    parts = [f"{score.correct} of {score.correct + score.wrong} correct"]
    if score.pass_rate is not None:
        parts[0] += f" ({score.pass_rate:.0%})"
    if score.not_judged:
        parts.append(f"{score.not_judged} not judged")
    if score.result is not None:
        parts.append(score.result)
    return ", ".join(parts)


def describe_share(share: Share) -> str:
    """Say a share with its counts and its 95 % interval."""
    if share.share is None:
        return "0 of 0"
    low, high = share.interval
    return f"{share.count} of {share.total} ({share.share:.0%}, 95 %: {low:.0%} to {high:.0%})"


def describe_rate(share: Share) -> str:
    """Say a rate as ``readback measure`` does: counts, share, 95 % interval."""
    if share.share is None:
        return "none yet"
    low, high = (100 * bound for bound in share.interval)
    return f"{share.count} of {share.total}, {100 * share.share:.1f} % ({low:.1f} to {high:.1f})"


def describe_corrected(value: JsonValue) -> str:
    """Say what stood before a correction, or what stands now."""
    if isinstance(value, dict):
        if "outcome" in value:
            return str(value["outcome"])
        named = (
            f"{name.replace('_', ' ')} {describe_corrected(one)}" for name, one in value.items()
        )
        return "; ".join(named)
    if isinstance(value, list):
        return ", ".join(map(str, value)) or "nothing"
    return "nothing" if value in (None, "") else str(value)


def describe_correction(one: Correction) -> str:
    """Say what was corrected, by whom, when and why."""
    target = "" if one.target is None else f" of transmission {one.target}"
    before, now = map(describe_corrected, (one.original, one.corrected))
    who = f"{one.by}, {one.at:%Y-%m-%d %H:%M}: {one.why}"
    return f"{one.number}: {one.kind}{target}, before: {before}, now: {now} ({who})"


def describe_element(call: str, element: str | None) -> str:
    """Name a call and its element in words."""
    parts = [call] if element in (None, call) else [call, str(element)]
    return ": ".join(parts).replace("_", " ")


def describe_time(seconds: float | None, *, tenths: bool = True) -> str:
    """Write a time in a recording: ``05:07.3``, with hours where there are any.

    Args:
        seconds: From its start; None is 0.
        tenths: Rounded to tenths of a second; without them a second counts once it is over, as on
            a clock: ``05:07``.
    """
    counted = round((seconds or 0.0) * 10) if tenths else int(seconds or 0.0) * 10
    hours, minutes = counted // 36_000, counted // 600 % 60
    start = f"{hours}:{minutes:02}" if hours else f"{minutes:02}"
    whole = f"{start}:{counted // 10 % 60:02}"
    return f"{whole}.{counted % 10}" if tenths else whole


def _least_certainty(session: KeptSession) -> str:
    """Say the one that counts for all, or from which to which their channels ask for."""
    whole = session.head.least_certainty
    own = [one.least_certainty for one in session.transmissions]
    least = sorted({whole if one is None else one for one in own}) or [whole]
    if len(least) == 1:
        return f"{least[0]:g}"
    return f"{least[0]:g} to {least[-1]:g}, by channel"


def _settings(session: KeptSession) -> str:
    named = session.head.settings.items()
    return ", ".join(f"{name} {value}" for name, value in named if name not in _RECORDING)


def _short(content: JsonValue) -> str:
    return f"(sha256 {str(content)[:_DIGITS]})" if content else ""


def _and_version(name: str | None, version: str | None) -> str:
    return " ".join(filter(None, (name, version)))
