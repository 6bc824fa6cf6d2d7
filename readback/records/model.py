"""What a training record holds."""

from collections.abc import Mapping
from datetime import date, datetime
from enum import StrEnum
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, JsonValue, StringConstraints

from readback.judging.model import Outcome, Verdict
from readback.transmission import Transmission

NOT_KEPT = 0
"""Number of a session that is in no records."""

Line = Annotated[str, StringConstraints(strip_whitespace=True, max_length=200)]
Named = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=200)]
Remarks = Annotated[str, StringConstraints(max_length=20_000)]
SessionResult = Literal["passed", "not passed"]
ToldBy = Literal["channel", "turn", "drill", "hand"]
"""How it is known who spoke: a channel of the recording, the turns of talk and what was said, the
drill, or a person."""


class _Part(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class SessionHead(_Part):
    """What a session is about; everything but the exchanges.

    Source: Regulation (EU) 2025/20, Part-ORGH, Subpart TRG, asks for organisation, name
    of the training, targeted competencies, topics, result with pass rate, and the dates of training
    and of assessment.
    """

    organisation: Line = ""
    training: Named
    """Name of the training."""
    competencies: tuple[Line, ...] = ()
    """Those that it aims at."""
    topics: tuple[Line, ...] = ()
    training_date: date
    assessment_date: date | None = None
    """None where nothing was assessed: such a session resets no interval."""
    instructor: Line = ""
    trainee: Named
    group: Line = ""
    """Class or crew, for progress of a group."""
    authority: Line = "icao"
    """Whose rules count."""
    callsign: Line | None = None
    """The callsign addressed, where instructions have none."""
    drill: Line | None = None
    drill_hash: Line | None = None
    """Of the drill file's content, as `readback.records.versions.content_hash` gives it."""
    grammar_version: Line = ""
    """Of the grammars that were read, as `readback.records.versions` gives it."""
    rules_version: Line = ""
    local_version: Line | None = None
    """Of the operator's own wording; `Store.begin` puts it in. None: the shipped one alone."""
    program_version: Line = ""
    engine: Line | None = None
    """The recogniser's name; None for typed words."""
    engine_model: Line | None = None
    least_certainty: float = Field(default=0.0, ge=0, le=1)
    """Elements heard with less were not judged; `KeptTransmission.least_certainty` where it has one
    of its own."""
    settings: Mapping[str, JsonValue] = Field(default_factory=dict)
    """What else was set; ``noise`` is shown in the progress."""
    pairing: Literal["found", "given"] = "found"
    """``found``: pairs come from the order of transmissions and are found again after a correction.
    ``given``: a drill or a person said what answers what."""
    consent: bool = False
    """Whether the person agreed that the voice is kept; without it no audio is."""
    keep_until: date | None = None
    """Last day of the retention time; None: as long as the owner of the records keeps them."""
    pass_mark: float | None = Field(default=None, ge=0, le=1)
    """Least share of correct exchanges to pass; None: the program says nothing of passing."""
    result: SessionResult | None = None
    """The instructor's; None: that of the pass mark."""
    remarks: Remarks = ""
    """The instructor's."""

    @property
    def recording(self) -> str:
        """Name of the recording that was heard; empty where there was none."""
        return str(self.settings.get("recording", ""))


class KeptTransmission(_Part):
    """One transmission as it was heard, and as it is after corrections."""

    number: int
    """From 1, in the order kept."""
    original: Transmission
    current: Transmission
    told_by: ToldBy | None = None
    """How it is known who spoke the original; None where nothing tells, or nobody noted it."""
    least_certainty: float | None = Field(default=None, ge=0, le=1)
    """Elements heard with less are not judged, by its channel; None: as the session says."""
    audio_bytes: int = 0
    """Size of its FLAC audio; 0 where none is kept."""

    @property
    def corrected(self) -> bool:
        """Tell whether a person changed its words or its station."""
        return self.current != self.original

    @property
    def speaker(self) -> str:
        """Who spoke, in words; with a question mark where it is guessed; empty: not known."""
        station = (self.current.station or "").replace("_", " ")
        guessed = self.told_by == "turn" and self.current.station == self.original.station
        return f"{station}?" if station and guessed else station


class KeptExchange(_Part):
    """One instruction, what answered it, and the verdict."""

    number: int
    """From 1, in the order judged."""
    instruction: int
    """Number of the transmission."""
    readback: int | None
    """Number of the transmission; None where nothing answered."""
    verdict: Verdict
    """The program's, of the words as they are now."""
    outcome: Outcome
    """The verdict that counts: a person's where one was given for these very words."""
    outcome_by: str | None = None
    """Who gave it; None: the program."""

    @property
    def overruled(self) -> bool:
        """Tell whether a person gave another verdict: the program's findings then do not count."""
        return self.outcome is not self.verdict.verdict


class CorrectionKind(StrEnum):
    """What a person corrects."""

    WORDS = "words"
    STATION = "station"
    PAIRING = "pairing"
    VERDICT = "verdict"
    RESULT = "result"
    REMARKS = "remarks"
    DETAILS = "details"


class Correction(_Part):
    """One correction by a person; never changed, the next one comes after it."""

    number: int
    """From 1 within the session."""
    kind: CorrectionKind
    target: int | None
    """Number of a transmission: the one corrected, the instruction of a pairing, either side of an
    exchange whose verdict it is; None for what is the whole session's."""
    original: JsonValue
    """What stood before."""
    corrected: JsonValue
    """What stands now. Words: one text. Pairing: the number of the readback, None for no answer,
    ``"none"`` for no instruction. Verdict: its word and the words that were judged. Details: field
    of the head -> value."""
    by: Named
    at: datetime
    why: Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=2000)]


class SessionScore(_Part):
    """How many exchanges were right."""

    correct: int
    wrong: int
    """Incorrect or incomplete."""
    not_judged: int
    """Those that could not be judged; they count neither way."""
    pass_rate: float | None
    """``correct / (correct + wrong)``; None where nothing was judged."""
    result: SessionResult | None


class KeptSession(_Part):
    """One session with everything but the sound."""

    id: int
    head: SessionHead
    """With the instructor's last result and remarks."""
    begun_at: datetime
    finished_at: datetime | None
    """None where the program ended before the session did."""
    transmissions: tuple[KeptTransmission, ...] = ()
    exchanges: tuple[KeptExchange, ...] = ()
    first_exchanges: tuple[KeptExchange, ...] = ()
    """As they were judged before any correction."""
    corrections: tuple[Correction, ...] = ()

    @property
    def score(self) -> SessionScore:
        """Count the exchanges; passed or not as the instructor said, else by the pass mark."""
        outcomes = [exchange.outcome for exchange in self.exchanges]
        correct = outcomes.count(Outcome.CORRECT)
        not_judged = outcomes.count(Outcome.SAY_AGAIN)
        judged = len(outcomes) - not_judged
        rate = correct / judged if judged else None
        result = self.head.result
        if result is None and rate is not None and self.head.pass_mark is not None:
            result = "passed" if rate >= self.head.pass_mark else "not passed"
        return SessionScore(
            correct=correct,
            wrong=judged - correct,
            not_judged=not_judged,
            pass_rate=rate,
            result=result,
        )

    def transmission(self, number: int) -> KeptTransmission:
        """Give the transmission of that number.

        Raises:
            KeyError: There is none.
        """
        for kept in self.transmissions:
            if kept.number == number:
                return kept
        raise KeyError(number)


class Tombstone(_Part):
    """What is left of a deleted session."""

    session_id: int
    deleted_on: date
