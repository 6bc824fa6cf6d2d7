"""The ear: our own small neural recogniser, shipped with the package, whole grammar, no network.

Sound -> log-mel spectrum (`spectrum`) -> phones (`network`) -> words of the grammar with the
probability of each (`graph`, `decoder`) -> `Transmission` (`recogniser`). How it was made and what
it is bad at: ``docs/ear.md``.
"""

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from readback.speech.ear.recogniser import EarRecogniser

__all__ = ["EarRecogniser"]


def __getattr__(name: str) -> Any:
    # onnxruntime and numpy are loaded by who listens, not by who only looks the package up.
    if name == "EarRecogniser":
        from readback.speech.ear.recogniser import EarRecogniser

        return EarRecogniser
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
