"""Vosk with a model that the user has, behind `Recogniser`."""

import ctypes
import json
import logging
import os
from contextlib import suppress
from pathlib import Path
from typing import Any

from readback.data import user_data_folder
from readback.errors import RecogniserError
from readback.search import SearchGrammar
from readback.speech.engine_errors import engine_errors, one_line
from readback.speech.memory import free_memory_mb
from readback.speech.quiet import quiet_standard_error
from readback.speech.recogniser import SAMPLE_RATE_HZ
from readback.transmission import Transmission, Word

MODEL_VARIABLE = "READBACK_VOSK_MODEL"
"""Environment variable that names the model's folder."""

_LOG = logging.getLogger(__name__)
_BLOCK_BYTES = 2 * SAMPLE_RATE_HZ // 10
"""The decoder always gets 0.1 s at a time: no result hangs on the caller's blocks."""
_UNKNOWN_WORDS = ("[unk]", "<UNK>", "<unk>")
"""How models name what is in no phrase."""
_NEEDED_FILES = (
    "am/final.mdl",
    "conf/mfcc.conf",
    "conf/model.conf",
    "graph/HCLr.fst",
    "graph/Gr.fst",
    "graph/disambig_tid.int",
    "graph/phones/word_boundary.int",
)
_NEEDED_WITH_IVECTOR = (
    "ivector/final.dubm",
    "ivector/final.ie",
    "ivector/final.mat",
    "ivector/global_cmvn.stats",
    "ivector/online_cmvn.conf",
    "ivector/splice.conf",
)
_MEMORY_FACTOR = 2.1
"""A loaded model's memory against its files: 252 MiB of files took 519 MiB (the Korean model)."""
_UNPACK = (
    "Give the folder made by unpacking a small English Vosk model; it holds am, conf and graph."
)


class VoskRecogniser:
    """Hears with Vosk, held to a list of phrases.

    The certainty of a word is Vosk's own confidence, which nobody has calibrated here. Partial
    results have words and times, no certainty.

    Args:
        grammar: All that may be said; the phrases are used.
        model: The model's folder. Nothing is ever fetched.

    Raises:
        RecogniserError: The folder holds no usable model, or the model knows none of the words.
    """

    name = "vosk"
    sample_rate_hz = SAMPLE_RATE_HZ

    missing_words: tuple[str, ...]
    """Words of the grammar that this model cannot hear; also logged as one warning."""

    def __init__(self, grammar: SearchGrammar, model: Path) -> None:
        check_vosk_model(model)
        with engine_errors(self.name):
            self._model: Any = _load_model(model)
            phrases, self.missing_words = _known_phrases(self._model, grammar, model)
        if self.missing_words:
            _LOG.warning(
                "vosk: %s does not know, and never hears: %s. "
                "Use a larger model, or spell the word as the model does.",
                model,
                ", ".join(self.missing_words),
            )
        self._phrases = json.dumps(phrases, ensure_ascii=False)
        self._decoder: Any = None
        self._pending = bytearray()
        self._ended: tuple[Word, ...] = ()
        with engine_errors(self.name), quiet_standard_error():
            # A damaged graph crashes the process here, not in the first transmission.
            self._start()
        self._decoder = None

    def recognise(self, pcm: bytes) -> Transmission:
        """See `Recogniser.recognise`."""
        # Its own decoder: what is being fed meanwhile is another transmission.
        fed = self._decoder, self._pending, self._ended
        self._start()
        try:
            self.feed(pcm)
            return self.finish()
        finally:
            self._decoder, self._pending, self._ended = fed

    def feed(self, pcm: bytes) -> Transmission:
        """See `Recogniser.feed`."""
        with engine_errors(self.name):
            if self._model is None:
                raise RecogniserError("vosk: the recogniser is closed.", "Make a new one.")
            if self._decoder is None:
                self._start()
            self._pending += pcm
            while len(self._pending) >= _BLOCK_BYTES:
                self._accept(bytes(self._pending[:_BLOCK_BYTES]))
                del self._pending[:_BLOCK_BYTES]
            if self._decoder is None:
                return Transmission()
            return Transmission(
                words=self._ended + _words(self._decoder.PartialResult(), "partial_result")
            )

    def settle(self) -> Transmission:
        """See `Recogniser.settle`; as `feed`: the engine's last words come when it ends."""
        return self.feed(b"") if self._decoder is not None else Transmission()

    def finish(self) -> Transmission:
        """See `Recogniser.finish`."""
        with engine_errors(self.name):
            if self._decoder is None:
                return Transmission()
            whole = len(self._pending) // 2 * 2
            if whole:
                self._accept(bytes(self._pending[:whole]))
            # What an endpoint ended is not in the final result, only in that endpoint's.
            words = self._ended + _words(self._decoder.FinalResult(), "result")
            self._decoder = None
            return Transmission(words=words)

    def close(self) -> None:
        """See `Recogniser.close`."""
        self._decoder = None
        self._model = None

    def _start(self) -> None:
        # A new decoder for each transmission: after a reset times count on from the last one.
        _seed_dither()
        self._pending, self._ended = bytearray(), ()
        if self._model is None:
            return
        from vosk import KaldiRecognizer

        self._decoder = KaldiRecognizer(self._model, float(SAMPLE_RATE_HZ), self._phrases)
        self._decoder.SetWords(True)
        self._decoder.SetPartialWords(True)

    def _accept(self, block: bytes) -> None:
        if self._decoder.AcceptWaveform(block):
            self._ended += _words(self._decoder.Result(), "result")


def _seed_dither() -> None:
    """Begin the C library's random numbers anew: the engine adds some to the sound.

    Without, the certainty of one word in one recording went from 0.71 to 1.0 in 30 hearings with
    the Korean model. Where the engine brings a C library of its own (Windows) this has no effect.
    """
    with suppress(OSError, AttributeError, TypeError):
        ctypes.CDLL(None).srand(1)


def find_vosk_model(settings_path: Path | None) -> Path | None:
    """Find the model that the user wants: the settings', `MODEL_VARIABLE`'s, the data folder's.

    Args:
        settings_path: The folder named in an option or in the settings; None if none is.

    Returns:
        The first that is named, whether or not it can be used (`check_vosk_model` tells); the one
        in the user's data folder only if it is there. None if there is none.
    """
    if settings_path is not None:
        return settings_path
    named = os.environ.get(MODEL_VARIABLE, "").strip()
    if named:
        return Path(named).expanduser()
    own = user_data_folder() / "vosk-model"
    return own if own.is_dir() else None


def check_vosk_model(model: Path) -> None:
    """Find what keeps a folder from being a usable model, without loading it.

    Raises:
        RecogniserError: Names what is wrong: no folder, one too high or too low, another kind of
            model, a file missing, too little memory.
    """
    if not model.exists():
        raise RecogniserError(f"vosk: {model}: no such folder.", _UNPACK)
    if not model.is_dir():
        raise RecogniserError(f"vosk: {model}: is a file.", _UNPACK)
    if not (model / "am").is_dir() or not (model / "graph").is_dir():
        raise _no_model(model)
    needed = [*_NEEDED_FILES]
    if (model / "ivector").is_dir():
        needed += _NEEDED_WITH_IVECTOR
    missing = [name for name in needed if not (model / name).is_file()]
    if "graph/HCLr.fst" in missing and (model / "graph/HCLG.fst").is_file():
        raise RecogniserError(
            f"vosk: {model}: is a large model, which cannot be held to a grammar.",
            "Use a small English model, with graph/HCLr.fst and graph/Gr.fst.",
        )
    empty = [name for name in needed if name not in missing and not (model / name).stat().st_size]
    if missing or empty:
        faults = [f"lacks {name}" for name in missing] + [f"{name} is empty" for name in empty]
        raise RecogniserError(f"vosk: {model}: {', '.join(faults)}.", "Unpack the model again.")
    _check_memory(model)


def _check_memory(model: Path) -> None:
    files = sum(path.stat().st_size for path in model.rglob("*") if path.is_file())
    needed, free = _MEMORY_FACTOR * files / 2**20, free_memory_mb()
    if free is not None and needed > free:
        raise RecogniserError(
            f"vosk: {model}: needs about {needed:.0f} MiB of memory, {free:.0f} MiB are free.",
            "Close other programs, or use a smaller model.",
        )


def _no_model(model: Path) -> RecogniserError:
    """Say what a folder without am and graph is."""
    inside = sorted(path.parent for path in model.glob("*/graph") if (path.parent / "am").is_dir())
    if inside:
        return RecogniserError(
            f"vosk: {model}: the model is one folder deeper.", f"Give {inside[0]}."
        )
    if (model.parent / "am").is_dir() and (model.parent / "graph").is_dir():
        return RecogniserError(f"vosk: {model}: is a part of a model.", f"Give {model.parent}.")
    others = {"mdef": "a PocketSphinx", "final.ext.raw": "a Vosk speaker", "model.bin": "another"}
    for name, kind in others.items():
        if (model / name).is_file():
            return RecogniserError(f"vosk: {model}: is {kind} model.", _UNPACK)
    return RecogniserError(f"vosk: {model}: holds no Vosk model.", _UNPACK)


def _load_model(folder: Path) -> Any:
    import vosk

    vosk.SetLogLevel(-1)
    try:
        # Always by path: by name or language the binding goes to the network, and may exit.
        with quiet_standard_error():
            return vosk.Model(model_path=str(folder))
    except Exception as error:
        raise RecogniserError(
            f"vosk: {folder}: the model cannot be loaded ({one_line(error)}).",
            "Unpack it again; if that does not help, use another one.",
        ) from error


def _known_phrases(
    model: Any, grammar: SearchGrammar, folder: Path
) -> tuple[list[str], tuple[str, ...]]:
    """Make a list that the engine survives: it drops unknown words in silence, and crashes on none.

    Returns:
        The phrases, unknown words in them replaced by the model's word for such or left out, and
        the unknown words.
    """
    unknown = next((w for w in _UNKNOWN_WORDS if model.vosk_model_find_word(w) >= 0), None)
    words = {word for phrase in grammar.phrases for word in phrase.split()}
    known = {word for word in words if model.vosk_model_find_word(word) >= 0}
    if not known:
        raise RecogniserError(
            f"vosk: {folder}: knows none of the {len(words)} words of the grammar.",
            "Use an English model.",
        )
    phrases: dict[str, None] = {}
    for phrase in grammar.phrases:
        split = phrase.split()
        kept = [word if word in known else unknown for word in split]
        if any(word in known for word in split):
            phrases[" ".join(word for word in kept if word)] = None
    if unknown:
        phrases[unknown] = None
    return list(phrases), tuple(sorted(words - known))


def _words(result: str, key: str) -> tuple[Word, ...]:
    """Read the words of one result, which has none of the keys when nothing was heard."""
    return tuple(
        Word(
            word=item["word"],
            start=item["start"],
            end=item["end"],
            certainty=min(1.0, max(0.0, item["conf"])) if key == "result" else None,
        )
        for item in json.loads(result).get(key, ())
        if item["word"] not in _UNKNOWN_WORDS
    )
