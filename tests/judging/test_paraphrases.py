"""What people say and type in their own words, labelled by hand from the published rules.

`tests/data/paraphrases.jsonl` was written and labelled in four batches, each before the code saw
it; at the first run 303 of 366, 54 of 60, 31 of 40 and 35 of 40 were judged as labelled. Each line
says who would say it and what is right or wrong with it. Callsigns and places are invented.
"""

import json
from collections import Counter
from pathlib import Path

import pytest

from readback.judging.check import check
from readback.judging.model import Severity

FILE = Path(__file__).parents[1] / "data" / "paraphrases.jsonl"
ROWS = [json.loads(line) for line in FILE.read_text(encoding="utf-8").splitlines()]
LEAST_SHARE = 0.97


def judged(row):
    return check(
        row["instruction"],
        row["readback"],
        authority=row["authority"],
        callsign=row.get("callsign"),
    )


def describe(row, verdict):
    found = "; ".join(finding.message for finding in verdict.mistakes)
    return (
        f"{row['authority']}: {row['instruction']!r} / {row['readback']!r}: labelled"
        f" {row['verdict']} ({row['note']}), judged {verdict.verdict}: {found}"
    )


def test_the_pairs_are_many_and_half_of_them_wrong():
    verdicts = Counter(row["verdict"] for row in ROWS)

    assert len(ROWS) >= 320
    assert verdicts.keys() == {"correct", "incorrect", "incomplete", "say again"}
    assert 0.4 <= verdicts["correct"] / len(ROWS) <= 0.6
    assert len({(row["instruction"], row["readback"], row["authority"]) for row in ROWS}) == len(
        ROWS
    )


@pytest.mark.parametrize("field", ["instruction", "readback", "authority", "said_by", "note"])
def test_every_pair_says_what_it_is(field):
    assert all(row[field].strip() for row in ROWS)


def test_paraphrases_are_judged_as_labelled():
    misses = []
    for row in ROWS:
        verdict = judged(row)
        if verdict.verdict != row["verdict"]:
            misses.append(describe(row, verdict))
    print(*misses, sep="\n")

    assert len(misses) <= (1 - LEAST_SHARE) * len(ROWS), misses


def test_no_faithful_paraphrase_has_a_critical_finding():
    accused = []
    for row in ROWS:
        verdict = judged(row)
        critical = [item for item in verdict.mistakes if item.severity is Severity.CRITICAL]
        if row["verdict"] == "correct" and critical:
            accused.append(describe(row, verdict))

    assert accused == []


def test_no_wrong_paraphrase_is_passed():
    passed = [
        describe(row, verdict)
        for row in ROWS
        if row["verdict"] != "correct" and (verdict := judged(row)).verdict == "correct"
    ]

    assert passed == []
