"""Whose rules count, and in which words: an authority's, with an operator's own on top."""

from pathlib import Path

from readback.judging.check import check
from readback.judging.local import LocalWording
from readback.judging.model import Verdict
from readback.judging.rules import RuleBook, load_rules
from readback.phraseology.grammar import Grammar, load_grammar
from readback.transmission import Transmission


class Wording:
    """Judges exchanges by one authority and one operator's wording.

    Args:
        authority: ``icao``, ``easa``, ``faa`` or ``uk``.
        local: The operator's; None: the shipped wording alone.
        callsign: The callsign addressed, where instructions have none.

    Raises:
        InputError: There is no such authority.
    """

    def __init__(
        self, authority: str, local: LocalWording | None = None, callsign: str | None = None
    ) -> None:
        self._files: tuple[tuple[Path, ...], tuple[Path, ...]] = (
            (local.grammars, local.rules) if local else ((), ())
        )
        self._callsign = callsign
        self.grammar: Grammar = load_grammar(self._files[0])
        self.rules: RuleBook = load_rules(authority, self._files[1])

    def check(
        self, instruction: Transmission, readback: Transmission | None, least_certainty: float
    ) -> Verdict:
        """Judge a readback; None where nothing answered."""
        return check(
            instruction,
            readback or "",
            authority=self.rules.authority,
            callsign=self._callsign,
            local_grammars=self._files[0],
            local_rules=self._files[1],
            least_certainty=least_certainty,
        )
