"""Which recognisers there are, which one is used, and what keeps the others from working."""

import importlib
import importlib.metadata
import importlib.util
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from readback.errors import InputError, RecogniserError
from readback.search import SearchGrammar
from readback.speech.recogniser import Recogniser

ENGINES = ("vosk", "ear", "pocketsphinx")
"""In the order in which they are preferred."""

_EAR = "readback.speech.ear"
_REINSTALL = "Install readback again."


@dataclass(frozen=True)
class EngineStatus:
    """Whether one recogniser works on this machine."""

    name: str
    works: bool
    detail: str
    """One line: version and model, or why it does not work and what to do."""


def make_recogniser(
    name: str | None,
    grammar: SearchGrammar,
    *,
    vosk_model: Path | None = None,
    in_process: bool = False,
) -> Recogniser:
    """Make a recogniser, ready to listen.

    Args:
        name: One of `ENGINES`; None takes the first of them that is there. ``vosk`` is there when a
            model is named or found; if it then does not work, that is an error, never another
            engine in silence.
        grammar: All that may be said.
        vosk_model: Folder of a Vosk model; None looks where `find_vosk_model` says.
        in_process: Run the engine in this process, where it can block or crash it.

    Raises:
        InputError: There is no recogniser of that name.
        RecogniserError: The recogniser cannot work, and what to do.
    """
    from readback.speech.vosk_engine import find_vosk_model

    chosen = name or default_engine(vosk_model)
    if chosen not in ENGINES:
        raise InputError(f'There is no recogniser "{chosen}".', f"Choose {', '.join(ENGINES)}.")
    model = find_vosk_model(vosk_model) if chosen == "vosk" else None
    if not in_process:
        from readback.speech.worker import RecogniserProcess

        return RecogniserProcess(chosen, grammar, vosk_model=model)
    if chosen == "ear":
        recogniser: Recogniser = _ear_class()(grammar)
        return recogniser
    if chosen == "vosk":
        return _make_vosk(grammar, model)
    return _make_pocketsphinx(grammar)


def default_engine(vosk_model: Path | None = None) -> str:
    """Name the recogniser that is used when none is asked for."""
    from readback.speech.vosk_engine import find_vosk_model

    if find_vosk_model(vosk_model) is not None:
        # Nobody has a model there who does not want it used.
        return "vosk"
    return "ear" if _ear_is_there() else "pocketsphinx"


def available_engines(vosk_model: Path | None = None) -> list[EngineStatus]:
    """Tell of each recogniser whether it works here, without loading a large model.

    Args:
        vosk_model: As in `make_recogniser`.
    """
    checks: dict[str, Callable[[], str]] = {
        "vosk": lambda: _check_vosk(vosk_model),
        "ear": _check_ear,
        "pocketsphinx": _check_pocketsphinx,
    }
    statuses = []
    for name in ENGINES:
        try:
            statuses.append(EngineStatus(name, True, checks[name]()))
        except RecogniserError as error:
            statuses.append(EngineStatus(name, False, str(error)))
    return statuses


def _make_pocketsphinx(grammar: SearchGrammar) -> Recogniser:
    _import("pocketsphinx")
    from readback.speech.pocketsphinx_engine import PocketSphinxRecogniser

    return PocketSphinxRecogniser(grammar)


def _make_vosk(grammar: SearchGrammar, model: Path | None) -> Recogniser:
    _import("vosk")
    from readback.speech.vosk_engine import VoskRecogniser

    return VoskRecogniser(grammar, _needed_model(model))


def _needed_model(model: Path | None) -> Path:
    if model is None:
        from readback.data import user_data_folder
        from readback.speech.vosk_engine import MODEL_VARIABLE

        raise RecogniserError(
            "vosk: no model.",
            f"Set {MODEL_VARIABLE} to the folder of a small English Vosk model, or put it at "
            f"{user_data_folder() / 'vosk-model'}.",
        )
    return model


def _check_pocketsphinx() -> str:
    module = _import("pocketsphinx")
    model = Path(module.get_model_path("en-us/en-us"))
    if not (model / "mdef").is_file():
        raise RecogniserError(f"pocketsphinx: its model is not at {model}.", _REINSTALL)
    return f"{_version('pocketsphinx')}, model {model}"


def _check_vosk(settings_path: Path | None) -> str:
    from readback.speech.vosk_engine import check_vosk_model, find_vosk_model

    _import("vosk")
    model = _needed_model(find_vosk_model(settings_path))
    check_vosk_model(model)
    return f"{_version('vosk')}, model {model}"


def _check_ear() -> str:
    _ear_class()
    return f"{_version('readback')}, model in the package"


def _ear_is_there() -> bool:
    spec = importlib.util.find_spec(_EAR)
    return spec is not None and spec.origin is not None and hasattr(_import(_EAR), "EarRecogniser")


def _ear_class() -> Any:
    if not _ear_is_there():
        raise RecogniserError("ear: is not in this version.", "Use pocketsphinx or vosk.")
    return _import(_EAR).EarRecogniser


def _import(name: str) -> Any:
    try:
        return importlib.import_module(name)
    except (ImportError, OSError, TypeError) as error:
        # OSError, TypeError: Vosk's binding where its library cannot be loaded.
        raise RecogniserError(
            f"{name.rpartition('.')[2]}: cannot be imported ({type(error).__name__}: {error}).",
            _REINSTALL,
        ) from error


def _version(package: str) -> str:
    try:
        return importlib.metadata.version(package)
    except importlib.metadata.PackageNotFoundError:
        return "of unknown version"
