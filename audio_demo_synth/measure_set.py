"""Make the labelled recordings that `readback measure` is tuned and reported on.

Run in this directory, in the environment that measure_voices.py needs:

    python measure_set.py texts tuning           write its labels: texts and voices
    python measure_set.py speak reporting        speak them into measure_set/ (shipped)
    python measure_set.py speak tuning FOLDER    speak them into FOLDER (not shipped)

measure_split.json says which voices and which texts belong to which split. The texts stand in the
label files: the grammar that made them moves on, and a figure must stay tied to what was said. So
``texts`` keeps what is there and adds only what the split names anew.
"""

import argparse
import csv
import json
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parent))

from measure_voices import RATE_HZ, make_speaker, save_recording, say  # noqa: E402

from readback.speech.channel import clean  # noqa: E402

COLUMNS = (
    *("file", "instruction", "readback", "authority", "callsign"),
    *("expected", "error", "voice", "split", "text"),
)
SUFFIXES = {"tuning": "flac", "reporting": "opus"}
LONGEST_WORDS = 24


def load_split() -> dict[str, Any]:
    """Read which voices and texts are for tuning and which for reporting."""
    split: dict[str, Any] = json.loads((HERE / "measure_split.json").read_text(encoding="utf-8"))
    return split


def add_labels(part: str) -> None:
    """Write the labels of the texts that the split names and its label file does not hold yet."""
    split = load_split()
    own, path = split[part], HERE / split[part]["labels"]
    rows = read_labels(path)
    taken = {
        row[side]
        for labels in (entry["labels"] for entry in split.values() if isinstance(entry, dict))
        for row in read_labels(HERE / labels)
        for side in ("instruction", "readback")
    }
    held = {row["text"] for row in rows}
    for texts in own["texts"]:
        if texts["name"] in held:
            continue
        voices = texts.get("voices", own["voices"])
        make = published_texts if "file" in texts else generated_texts
        for number, row in enumerate(make(texts, taken)):
            rows.append(
                row
                | {
                    "file": f"{part[0]}{len(rows):03}.{SUFFIXES[part]}",
                    # Right and wrong ones come in turn: two of them to a voice give it both.
                    "voice": voices[number // 2 % len(voices)],
                    "split": part,
                    "text": texts["name"],
                }
            )
    path.parent.mkdir(exist_ok=True)
    save_labels(path, rows)
    print(f"{path.name}: {len(rows)} pairs")


def generated_texts(texts: dict[str, Any], taken: set[str]) -> Iterator[dict[str, str]]:
    """Draw texts from the grammar's generator, right and wrong ones in turn.

    Args:
        texts: ``count``, ``seed`` and ``authority``.
        taken: Texts that must not come; those of this split are added.
    """
    from readback.judging.pairs import make_pairs

    erring = False
    given = 0
    for pair in make_pairs(texts["count"] * 6, texts["seed"], texts["authority"]):
        said = {pair.instruction, pair.readback}
        long = len(pair.readback.split()) > LONGEST_WORDS
        if (pair.error is not None) != erring or said & taken or long:
            continue
        taken |= said
        erring = not erring
        given += 1
        yield {
            "instruction": pair.instruction,
            "readback": pair.readback,
            "authority": pair.authority,
            "callsign": "",
            "expected": str(pair.verdict),
            "error": str(pair.error or ""),
        }
        if given == texts["count"]:
            return


def published_texts(texts: dict[str, Any], taken: set[str]) -> Iterator[dict[str, str]]:
    """Read texts that people wrote: ``file`` names the CSV that holds them."""
    for row in read_labels(HERE / texts["file"]):
        taken |= {row["instruction"], row["readback"]}
        yield {name: row[name] for name in COLUMNS[1:7]}


def read_labels(path: Path) -> list[dict[str, str]]:
    """Read a label file; nothing where there is none."""
    if not path.exists():
        return []
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def save_labels(path: Path, rows: Sequence[dict[str, str]]) -> None:
    """Write rows as a label file."""
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


def speak(part: str, folder: Path, archive: Path) -> None:
    """Speak every text of a split that has no recording yet, and put its labels beside them.

    The clips that are no call go into a folder beside, ``measure_set_outside`` or
    ``FOLDER_outside``.
    """
    speaker = make_speaker(archive)
    outside = [row for row in read_labels(HERE / "measure_outside.csv") if row["split"] == part]
    speak_rows(folder, read_labels(HERE / load_split()[part]["labels"]), "readback", speaker)
    speak_rows(folder.with_name(f"{folder.name}_outside"), outside, "text", speaker)


def speak_rows(folder: Path, rows: Sequence[dict[str, str]], column: str, speaker: Any) -> None:
    """Speak the column of each row in its voice; write the rows as the folder's labels."""
    folder.mkdir(parents=True, exist_ok=True)
    for row in rows:
        path = folder / row["file"]
        if not path.exists():
            samples = clean(say(row[column], row["voice"], speaker))
            save_recording(path, samples)
            print(path.name, row["voice"], f"{len(samples) / RATE_HZ:.1f} s", flush=True)
    save_labels(folder / "labels.csv", rows)


def main() -> None:
    """Run one of the two steps."""
    parser = argparse.ArgumentParser(description=main.__doc__)
    parser.add_argument("step", choices=["texts", "speak"])
    parser.add_argument("part", choices=["tuning", "reporting"])
    parser.add_argument("folder", nargs="?", type=Path)
    parser.add_argument("--voices", type=Path, default=HERE / "kokoro-js-1.2.1.tgz")
    options = parser.parse_args()
    if options.step == "texts":
        add_labels(options.part)
        return
    if options.part == "tuning" and options.folder is None:
        parser.error("speak tuning needs a folder")
    if not options.voices.is_file():
        sys.exit(f"{options.voices}: no such file. Run: npm pack kokoro-js@1.2.1")
    speak(options.part, options.folder or HERE / "measure_set", options.voices)


if __name__ == "__main__":
    main()
