"""Many recordings replayed: what was done before is found again, what comes is kept at once."""

from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

from readback.replay.kept import KeptResults, file_hash
from readback.replay.model import Replayed, readable

Hear = Callable[[Sequence[str]], Iterator[tuple[str, Replayed]]]
"""Replays recordings and gives each with its result as it comes, in whatever order."""


def replay_all(
    files: Sequence[str],
    hear: Hear,
    *,
    kept: KeptResults | None = None,
    told: Callable[[Replayed], None] = lambda _: None,
) -> list[Replayed]:
    """Replay recordings.

    Args:
        files: Their paths.
        hear: Replays those that are not yet.
        kept: Where results are kept as they come, and found again; those with an error are not.
        told: Called with each result as it comes, in whatever order.

    Returns:
        One result for each file, in their order.
    """
    hashes = {file: file_hash(Path(file)) for file in files}
    results: dict[str, Replayed] = {}
    for file in files:
        known = kept.find(hashes[file]) if kept and hashes[file] else None
        if known is not None:
            results[file] = known.model_copy(update={"file": readable(file)})
            told(results[file])
    for file, replayed in hear([file for file in hashes if file not in results]):
        result = results[file] = replayed.model_copy(update={"content": hashes[file]})
        if kept and result.content and result.error is None:
            kept.keep(result)
        told(result)
    return [results[file] for file in files]
