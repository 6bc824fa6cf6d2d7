"""Measure candidates on the choosing people: runs, or averages of runs.

    python -m audio_demo_synth.ear.choose DATA A.pt B.pt A.pt+B.pt

DATA holds the shards ``choose_*.npz`` of `people pack`. Prints one JSON line a candidate.
"""

import argparse
import json
from pathlib import Path

import torch

from audio_demo_synth.ear.export import load_average
from audio_demo_synth.ear.train import MEASURE_SNRS_DB, Measures


def main() -> None:
    """Measure."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("data", type=Path)
    parser.add_argument("candidates", nargs="+")
    options = parser.parse_args()
    measures = Measures(options.data, torch.device("cpu"))
    for candidate in options.candidates:
        network = load_average([Path(path) for path in candidate.split("+")])
        row = measures.take(network, MEASURE_SNRS_DB)
        print(candidate, json.dumps({k: round(v, 4) for k, v in row.items()}), flush=True)


if __name__ == "__main__":
    main()
