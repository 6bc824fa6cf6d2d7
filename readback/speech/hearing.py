"""Recordings heard: transmissions found, and the words in them."""

import os
from collections.abc import Iterator

import numpy as np

from readback.errors import AudioError, RecogniserBroke
from readback.speech.audio import Recording
from readback.speech.channel_finding import find_channel
from readback.speech.level import speech_fault
from readback.speech.recogniser import SAMPLE_RATE_HZ, Recogniser
from readback.speech.segments import LONGEST_S, Segment, find_segments
from readback.transmission import Transmission, Word


def hear_file(
    path: str | os.PathLike[str] | Recording, recogniser: Recogniser
) -> Iterator[Transmission]:
    """Hear every transmission of a recording, in the order in which they start.

    Args:
        path: A recording of one signal, or of one station in each of two channels.
        recogniser: What hears them, one by one.

    Yields:
        Transmissions with the start and end of their sound; ``station`` is ``"left"`` or
        ``"right"`` where each station has a channel. One without words was not understood, or the
        engine broke on it.

    Raises:
        AudioError: The recording cannot be used; what came before a damage is yielded first.
        RecogniserError: The engine cannot be started anew.
    """
    recording = path if isinstance(path, Recording) else Recording(path)
    for segment in find_segments(recording):
        try:
            heard = recogniser.recognise(segment.pcm.tobytes())
        except RecogniserBroke:
            # Not understood, as the log says; the next one is heard.
            heard = Transmission()
        yield heard.model_copy(
            update={
                "words": tuple(_later(word, segment.start_s) for word in heard.words),
                "station": recording.stations[segment.channel],
                "start": segment.start_s,
                "end": segment.end_s,
                "channel": find_channel(segment.pcm),
                "sound": speech_fault(segment.pcm),
            }
        )


def hear_transmission(path: str | os.PathLike[str], recogniser: Recogniser) -> Transmission:
    """Hear a recording that holds one transmission, however many pauses it has.

    The parts with speech in them are joined and heard as one, since a phrase may go on after a
    pause.

    Args:
        path: The recording.
        recogniser: What hears it.

    Returns:
        The transmission, times in seconds from the start of the recording; without words, start
        and end where nobody speaks.

    Raises:
        AudioError: The recording cannot be used, or has more speech than one transmission.
        RecogniserError: The engine broke.
    """
    recording = Recording(path)
    segments: list[Segment] = []
    for segment in find_segments(recording):
        segments.append(segment)
        if sum(len(part.pcm) for part in segments) > LONGEST_S * SAMPLE_RATE_HZ:
            raise AudioError(
                f"{recording.path}: holds over {LONGEST_S:.0f} s of speech, not one transmission.",
                "Cut the one to check out of it, or use readback replay.",
            )
    if not segments:
        return Transmission()
    pcm = np.concatenate([part.pcm for part in segments])
    heard = recogniser.recognise(pcm.tobytes())
    stations = {recording.stations[part.channel] for part in segments}
    return heard.model_copy(
        update={
            "words": tuple(_in_recording(word, segments) for word in heard.words),
            "station": stations.pop() if len(stations) == 1 else None,
            "start": segments[0].start_s,
            "end": max(part.end_s for part in segments),
            "channel": find_channel(pcm),
            "sound": speech_fault(pcm),
        }
    )


def _in_recording(word: Word, segments: list[Segment]) -> Word:
    """Move a word from its time in the joined parts to its time in the recording."""
    joined_s = 0.0
    for part in segments:
        length_s = len(part.pcm) / SAMPLE_RATE_HZ
        if (word.start or 0.0) < joined_s + length_s or part is segments[-1]:
            return _later(word, part.start_s - joined_s)
        joined_s += length_s
    return word


def _later(word: Word, seconds: float) -> Word:
    if word.start is None or word.end is None:
        return word
    return word.model_copy(
        update={"start": max(0.0, word.start + seconds), "end": max(0.0, word.end + seconds)}
    )
