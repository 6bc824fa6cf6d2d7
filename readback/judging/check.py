"""Instruction and readback in, verdict out: parsing and judging together."""

from collections.abc import Callable
from pathlib import Path

from readback.errors import InputError
from readback.judging.judge import judge
from readback.judging.manner import manner_findings, measure_manner
from readback.judging.model import Finding, Verdict
from readback.judging.rules import load_rules
from readback.judging.weighing import Meaning, meanings, weigh
from readback.judging.wording import remarks
from readback.phraseology.callsigns import read_callsign, spoken_forms
from readback.phraseology.grammar import Grammar, load_grammar
from readback.phraseology.model import Reading
from readback.phraseology.parser import parse
from readback.phraseology.words import canonical_words
from readback.transmission import Transmission


def check(
    instruction: str | Transmission,
    readback: str | Transmission,
    *,
    authority: str = "icao",
    callsign: str | None = None,
    local_grammars: tuple[Path, ...] = (),
    local_rules: tuple[Path, ...] = (),
    least_certainty: float = 0.0,
) -> Verdict:
    """Judge one readback against its instruction.

    Args:
        instruction: Typed text or a heard transmission.
        readback: Typed text or a heard transmission.
        authority: ``icao``, ``easa``, ``faa`` or ``uk``.
        callsign: The callsign addressed, typed, where the instruction does not carry it.
        local_grammars: JSGF files of an operator's own wording.
        local_rules: Rules files for it.
        least_certainty: Elements heard with less certainty are not judged.

    Raises:
        InputError: The authority is unknown or the callsign cannot be read.
        GrammarError: A grammar or rules file is wrong.
    """
    case = prepare(
        instruction,
        readback,
        authority=authority,
        callsign=callsign,
        local_grammars=local_grammars,
        local_rules=local_rules,
    )
    return case(least_certainty)


def prepare(
    instruction: str | Transmission,
    readback: str | Transmission,
    *,
    authority: str = "icao",
    callsign: str | None = None,
    local_grammars: tuple[Path, ...] = (),
    local_rules: tuple[Path, ...] = (),
) -> Callable[[float], Verdict]:
    """Do once what every least certainty has in common; see `check`.

    Returns:
        Least certainty -> verdict.

    Raises:
        InputError: The authority is unknown or the callsign cannot be read.
        GrammarError: A grammar or rules file is wrong.
    """
    grammar = load_grammar(local_grammars)
    rules = load_rules(authority, local_rules)
    given = _given_callsign(callsign)
    instructed = parse(instruction, grammar, (given,) if given else ())
    known = dict.fromkeys([*([given] if given else []), *_callsigns(instructed)])
    answered = parse(readback, grammar, tuple(known))
    if _has_alternatives(instruction) or _has_alternatives(readback):
        decide = weigh(
            _meanings(instruction, instructed, grammar, (given,) if given else ()),
            _meanings(readback, answered, grammar, tuple(known)),
            rules,
            callsign=given,
        ).verdict
    else:

        def decide(least_certainty: float) -> Verdict:
            return judge(
                instructed, answered, rules, callsign=given, least_certainty=least_certainty
            )

    advice = (
        *remarks(instructed, rules, "instruction"),
        *remarks(answered, rules, "readback", instruction=instructed),
        *_manner(instruction, readback),
    )

    def with_advice(least_certainty: float) -> Verdict:
        verdict = decide(least_certainty)
        # Remarks come after the judgement, so that none of them can change it.
        return verdict.model_copy(update={"findings": verdict.findings + advice})

    return with_advice


def _has_alternatives(said: str | Transmission) -> bool:
    return isinstance(said, Transmission) and bool(said.alternatives)


def _meanings(
    said: str | Transmission, reading: Reading, grammar: Grammar, known: tuple[str, ...]
) -> tuple[Meaning, ...]:
    """List what was said may mean: one thing where it was typed or has no alternatives."""
    if isinstance(said, Transmission) and said.alternatives:
        return meanings(said, grammar, known)
    return (Meaning((reading,), 1.0),)


def _manner(instruction: str | Transmission, readback: str | Transmission) -> tuple[Finding, ...]:
    """Remark on how a heard readback was spoken; typed ones have no manner."""
    if isinstance(readback, str):
        return ()
    heard = instruction if isinstance(instruction, Transmission) else None
    return manner_findings(measure_manner(readback, instruction=heard))


def _given_callsign(callsign: str | None) -> str | None:
    if callsign is None:
        return None
    words = tuple(word for part in callsign.split() for word in canonical_words(part))
    value = read_callsign(words) if words else ""
    # A form without a word (of a control character, say) would be found everywhere.
    if not value or not all(spoken_forms(value)):
        raise InputError(f"{callsign!r} is no callsign.", 'Give one such as "Larkspur 421".')
    return value


def _callsigns(reading: Reading) -> list[str]:
    return [call.elements[0].value for call in reading.calls if call.name == "callsign"]
