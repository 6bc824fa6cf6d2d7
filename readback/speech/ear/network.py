"""The ear's network on onnxruntime: one thread of the processor, nothing else."""

from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from readback.errors import RecogniserError
from readback.speech.ear.spectrum import log_mel

MODEL = Path(__file__).parent.parent / "models" / "ear.onnx"


class Network:
    """Names phones in sound.

    Args:
        model: The ONNX file.

    Raises:
        RecogniserError: onnxruntime or the file is missing, or the file is damaged.
    """

    def __init__(self, model: Path = MODEL) -> None:
        if not model.is_file():
            raise RecogniserError(f"ear: {model}: no such file.", "Install readback again.")
        self._model = model
        self._session: Any = self._load()

    def _load(self) -> Any:
        try:
            import onnxruntime
        except ImportError as error:
            raise RecogniserError(
                "ear: the package onnxruntime is not installed.", "Install readback again."
            ) from error
        options = onnxruntime.SessionOptions()
        options.intra_op_num_threads = options.inter_op_num_threads = 1
        options.log_severity_level = 3
        try:
            return onnxruntime.InferenceSession(
                str(self._model), options, providers=["CPUExecutionProvider"]
            )
        except Exception as error:
            raise RecogniserError(
                f"ear: {self._model} cannot be read.", "Install readback again."
            ) from error

    @cached_property
    def input_name(self) -> str:
        """What the file calls its input."""
        return str(self._session.get_inputs()[0].name)

    def hear(self, samples: npt.NDArray[np.float32]) -> npt.NDArray[np.float32]:
        """Give the log-probability of each phone in each 20 ms.

        Args:
            samples: 16 kHz mono within -1 and 1.

        Returns:
            (steps, phones), rows as `readback.speech.ear.phones.PHONES`.
        """
        (found,) = self._session.run(None, {self.input_name: log_mel(samples)[None]})
        return np.asarray(found[0], np.float32)
