"""Learn how letters sound from a dictionary: the table of `readback.phraseology.pronouncing`.

    python -m audio_demo_synth.ear.letters DICTIONARY OUT [--least 4]

DICTIONARY is in CMUdict's form, such as pocketsphinx's own. One word in twenty is held out and says
how good the table is. Letters are aligned with phones by Viterbi training, each letter saying none,
one or two; then, for each letter among its neighbours, the commonest sound is kept where it is not
what fewer neighbours say. Source: Daelemans and van den Bosch, Language-independent data-oriented
grapheme-to-phoneme conversion, 1997 (alignment, then the smallest telling context).
"""

import argparse
import math
import re
import zlib
from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from pathlib import Path

from readback.phraseology.pronouncing import CONTEXTS, Letters, around

Chunk = tuple[str, ...]
Entry = tuple[str, Chunk]
ALIGNED = 30_000
"""Words that the alignment is trained on; all are aligned by it."""
ROUNDS = 4
HELD_OUT = 20


def read_words(path: Path) -> Iterator[Entry]:
    """Give the plain words of a dictionary, first pronunciations alone, and their phones."""
    for line in path.read_text("utf-8").splitlines():
        word, _, phones = line.partition(" ")
        if re.fullmatch("[a-z]+", word):
            yield word, tuple(re.sub(r"\d", "", phones).split())


def align(word: str, phones: Chunk, costs: dict[tuple[str, Chunk], float]) -> list[Chunk] | None:
    """Give each letter's phones, the cheapest way; None where letters cannot say them."""
    width = len(phones) + 1
    best: list[list[tuple[float, int]]] = [[(math.inf, 0)] * width for _ in range(len(word) + 1)]
    best[0][0] = (0.0, 0)
    for at, letter in enumerate(word):
        for done in range(width):
            before = best[at][done][0]
            if before == math.inf:
                continue
            for count in range(min(2, width - 1 - done) + 1):
                chunk = phones[done : done + count]
                cost = before + costs.get((letter, chunk), 12.0)
                if cost < best[at + 1][done + count][0]:
                    best[at + 1][done + count] = (cost, count)
    if best[-1][-1][0] == math.inf:
        return None
    chunks, done = [], width - 1
    for at in range(len(word), 0, -1):
        count = best[at][done][1]
        chunks.append(phones[done - count : done])
        done -= count
    return chunks[::-1]


def first_costs(entries: Sequence[Entry]) -> dict[tuple[str, Chunk], float]:
    """Say how often letters and phones stand at about the same place."""
    counts: Counter[tuple[str, Chunk]] = Counter()
    for word, phones in entries:
        for at, letter in enumerate(word):
            counts[letter, ()] += 1
            middle = at * len(phones) // len(word)
            for place in range(max(0, middle - 1), min(len(phones), middle + 2)):
                counts[letter, phones[place : place + 1]] += 1
    return to_costs(counts)


def to_costs(counts: Counter[tuple[str, Chunk]]) -> dict[tuple[str, Chunk], float]:
    """Turn counts into costs in nats, by letter."""
    totals: Counter[str] = Counter()
    for (letter, _), count in counts.items():
        totals[letter] += count
    return {key: -math.log(count / totals[key[0]]) for key, count in counts.items()}


def align_all(entries: Sequence[Entry]) -> list[tuple[str, list[Chunk]]]:
    """Align every word; those that cannot be are left out."""
    few = entries[:: max(1, len(entries) // ALIGNED)]
    costs = first_costs(few)
    for _ in range(ROUNDS):
        counts: Counter[tuple[str, Chunk]] = Counter()
        for word, phones in few:
            counts.update(zip(word, align(word, phones, costs) or (), strict=False))
        costs = to_costs(counts)
    found = ((word, align(word, phones, costs)) for word, phones in entries)
    return [(word, chunks) for word, chunks in found if chunks is not None]


def learn(aligned: Sequence[tuple[str, list[Chunk]]], least: int) -> Letters:
    """Keep each context's commonest sound where it differs from the shorter context's."""
    counts: dict[str, Counter[Chunk]] = defaultdict(Counter)
    for word, chunks in aligned:
        for at, chunk in enumerate(chunks):
            for context in CONTEXTS:
                counts[around(word, at, context)][chunk] += 1
    table: dict[str, Chunk] = {}
    for width, context in enumerate(CONTEXTS):
        for key, said in counts.items():
            if key.count("|") != 2 or len(key) - 3 != sum(context):
                continue
            left, letter, right = key.split("|")
            if (len(left), len(right)) != context:
                continue
            chunk, count = said.most_common(1)[0]
            shorter = _say(table, left, letter, right, CONTEXTS[:width])
            if shorter is None or (count >= least and chunk != shorter):
                table[key] = chunk
    return Letters(table)


def _say(
    table: dict[str, Chunk], left: str, letter: str, right: str, contexts: Sequence[tuple[int, int]]
) -> Chunk | None:
    for before, after in reversed(contexts):
        key = f"{left[len(left) - before :]}|{letter}|{right[:after]}"
        if key in table:
            return table[key]
    return None


def distance(one: Chunk, other: Chunk) -> int:
    """Substitutions, deletions and insertions of phones."""
    row = list(range(len(other) + 1))
    for i, phone in enumerate(one, 1):
        before, row[0] = row[0], i
        for j, heard in enumerate(other, 1):
            changed = before + (phone != heard)
            before, row[j] = row[j], min(row[j] + 1, row[j - 1] + 1, changed)
    return row[-1]


def main() -> None:
    """Learn, print how good it is on words held out, write."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("dictionary", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("--least", type=int, default=4, help="times that a context must be met")
    options = parser.parse_args()
    words = dict(read_words(options.dictionary))
    entries = [(word, phones) for word, phones in words.items() if len(word) > 1]
    kept = [entry for entry in entries if zlib.crc32(entry[0].encode()) % HELD_OUT]
    held = [entry for entry in entries if not zlib.crc32(entry[0].encode()) % HELD_OUT]
    letters = learn(align_all(kept), options.least)
    letters.save(options.out)
    said = [(letters.say(word), phones) for word, phones in held]
    errors = sum(distance(phones, variants[0]) for variants, phones in said)
    any_of = sum(min(distance(phones, one) for one in variants) for variants, phones in said)
    total = sum(len(phones) for _, phones in said)
    print(f"{len(letters.table)} contexts, {options.out.stat().st_size} bytes")
    print(
        f"{len(held)} words held out: {errors} of {total} phones wrong, {any_of} of the nearest"
        f" variant; {sum(v[0] == p for v, p in said)} words right,"
        f" {sum(p in v for v, p in said)} by some variant"
    )


if __name__ == "__main__":
    main()
