"""Speech outside the grammar, and sounds without speech: how much of it comes back as a call."""

import csv
import tempfile
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

import numpy as np
from pydantic import BaseModel, ConfigDict

from readback.errors import InputError, RecogniserError
from readback.measure.certainty import LeastCertainty
from readback.measure.conditions import Condition
from readback.measure.observe import read_samples, write_samples
from readback.measure.sounds import Sound, babble, backwards, make_sounds
from readback.measure.statistics import Share
from readback.phraseology.grammar import load_grammar
from readback.phraseology.parser import parse
from readback.speech.hearing import hear_transmission
from readback.speech.recogniser import Recogniser

COLUMNS = ("file", "text", "kind", "voice", "split")
_BABBLES = 12
_BABBLING = 3
_BACKWARDS = 48


class Rejection(BaseModel):
    """What became of the sounds of one kind under one condition."""

    model_config = ConfigDict(frozen=True)

    engine: str
    condition: str
    kind: str
    """``all`` for all of them."""
    worded: Share
    """Of the sounds, those in which any word was heard."""
    called: Share
    """Those whose words make a call."""
    accepted: Share
    """Those with a call that is as certain as judging asks for: what a user would be told of."""


class _Heard(BaseModel):
    kind: str
    worded: bool = False
    called: bool = False
    accepted: bool = False


def read_outside(folder: Path) -> tuple[Sound, ...]:
    """Read a folder of speech that is no call.

    Args:
        folder: Holds ``labels.csv`` with the columns `COLUMNS`, and the recordings.

    Raises:
        InputError: The folder is not as it must be.
        AudioError: A recording cannot be used.
    """
    path = folder / "labels.csv"
    try:
        with path.open(encoding="utf-8", newline="") as file:
            rows = list(csv.DictReader(file))
    except OSError as error:
        why = f"{path}: cannot be read ({error.strerror})."
        raise InputError(why, "Install readback again.") from error
    return tuple(
        Sound(row["file"], row["kind"], read_samples(folder / row["file"])) for row in rows
    )


def gather_sounds(
    outside: Sequence[Sound], calls: Sequence[Path], *, tuning: bool = False
) -> tuple[Sound, ...]:
    """Put together all that is no call.

    Args:
        outside: Speech that is no call.
        calls: Recordings of calls; some are taken, and played backwards.
        tuning: See `make_sounds`.
    """
    chat = [sound.samples for sound in outside]
    babbles = [
        babble(f"babble {number}", chat[number * _BABBLING : (number + 1) * _BABBLING])
        for number in range(min(_BABBLES, len(chat) // _BABBLING))
    ]
    turned = [backwards(path.name, read_samples(path)) for path in calls[:_BACKWARDS]]
    return (*outside, *babbles, *turned, *make_sounds(tuning=tuning))


def measure_rejection(
    sounds: Sequence[Sound],
    conditions: Sequence[Condition],
    recogniser: Recogniser,
    least_certainty: LeastCertainty,
    *,
    tell: Callable[[str], None] = lambda _: None,
) -> Iterator[Rejection]:
    """Hear every sound under every condition, and count what comes back.

    Args:
        sounds: `gather_sounds`.
        conditions: Over what they are heard.
        recogniser: What hears.
        least_certainty: What is heard with less is not judged.
        tell: Takes a line on how far it is.

    Yields:
        By condition, all kinds together and then each.
    """
    for condition in conditions if sounds else ():
        heard = [_hear(sound, condition, recogniser, least_certainty) for sound in sounds]
        tell(f"{recogniser.name}: {len(heard)} sounds that are no call, {condition.name}")
        for kind in ("all", *dict.fromkeys(one.kind for one in heard)):
            own = [one for one in heard if kind in ("all", one.kind)]
            yield Rejection(
                engine=recogniser.name,
                condition=condition.name,
                kind=kind,
                worded=Share(count=sum(one.worded for one in own), total=len(own)),
                called=Share(count=sum(one.called for one in own), total=len(own)),
                accepted=Share(count=sum(one.accepted for one in own), total=len(own)),
            )


def _hear(
    sound: Sound, condition: Condition, recogniser: Recogniser, least_certainty: LeastCertainty
) -> _Heard:
    received = np.asarray(condition.send(sound.samples, sound.name))
    with tempfile.TemporaryDirectory() as scratch:
        path = Path(scratch) / "sound.wav"
        write_samples(path, received)
        try:
            heard = hear_transmission(path, recogniser)
        except RecogniserError:
            return _Heard(kind=sound.kind)
    calls = parse(heard, load_grammar()).calls
    certain = [1.0 if call.certainty is None else call.certainty for call in calls]
    return _Heard(
        kind=sound.kind,
        worded=bool(heard.words),
        called=bool(calls),
        accepted=max(certain, default=-1.0) >= least_certainty(heard),
    )
