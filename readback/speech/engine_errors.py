"""The border between an engine and us: whatever it raises becomes a `RecogniserError`."""

from collections.abc import Iterator
from contextlib import contextmanager

from readback.errors import ReadbackError, RecogniserError
from readback.search import SearchGrammar


@contextmanager
def engine_errors(name: str) -> Iterator[None]:
    """Raise whatever an engine raises inside as a `RecogniserError`, its cause kept.

    Args:
        name: The engine, as the user names it.

    Raises:
        RecogniserError: The engine raised; our own errors pass unchanged.
    """
    try:
        yield
    except ReadbackError:
        raise
    except MemoryError as error:
        raise RecogniserError(
            f"{name}: no memory was left.", "Close other programs, and say it again."
        ) from error
    except Exception as error:
        raise RecogniserError(
            f"{name}: the engine broke: {type(error).__name__}: {one_line(error)}.",
            "Try again; if it stays so, choose another recogniser and report this line.",
        ) from error


def one_line(error: BaseException) -> str:
    """Give an error's message on one line, without a full stop at its end."""
    return (" ".join(str(error).split()) or type(error).__name__).rstrip(".")


def grammar_words(grammar: SearchGrammar) -> frozenset[str]:
    """Give every word that may be said: those of the word graph."""
    return frozenset(arc.word for arc in grammar.arcs if arc.word is not None)
