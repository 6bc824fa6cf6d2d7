"""The ear's network in PyTorch: the lower layers of a Whisper encoder, and a head naming phones."""

import struct
from pathlib import Path
from typing import BinaryIO

import numpy as np
import numpy.typing as npt
import torch
import torch.nn.functional as functional
from torch import Tensor, nn

from readback.speech.ear.phones import MEL_BANDS, PHONES

HEAD_WIDTH = 64
"""Width of one attention head in every Whisper model."""
CT2_TYPES = {0: np.float32, 1: np.int8, 2: np.int16, 3: np.int32, 4: np.float16}


def read_ct2(path: Path, wanted: str = "encoder/") -> dict[str, npt.NDArray[np.float32]]:
    """Read the float weights of a CTranslate2 ``model.bin`` (binary version 6): name -> array."""
    weights = {}
    with path.open("rb") as file:
        _unpack(file, "I")
        _name(file)
        _unpack(file, "I")
        for _ in range(_unpack(file, "I")[0]):
            name = _name(file)
            shape = _unpack(file, "I" * _unpack(file, "B")[0])
            kind, size = _unpack(file, "B")[0], _unpack(file, "I")[0]
            raw = file.read(size)
            if name.startswith(wanted) and kind in (0, 4):
                values = np.frombuffer(raw, CT2_TYPES[kind]).reshape(shape)
                weights[name.removeprefix(wanted)] = values.astype(np.float32)
    return weights


def _unpack(file: BinaryIO, form: str) -> tuple[int, ...]:
    return struct.unpack(form, file.read(struct.calcsize(form)))


def _name(file: BinaryIO) -> str:
    return file.read(_unpack(file, "H")[0])[:-1].decode()


def sinusoids(length: int, width: int, device: torch.device | None = None) -> Tensor:
    """Whisper's position table, (length, width)."""
    step = np.log(10_000) / (width // 2 - 1)
    scales = torch.exp(-step * torch.arange(width // 2, device=device, dtype=torch.float32))
    angles = torch.arange(length, device=device, dtype=torch.float32)[:, None] * scales[None]
    return torch.cat([angles.sin(), angles.cos()], 1)


class Layer(nn.Module):
    """One pre-norm transformer layer of the encoder."""

    def __init__(self, width: int, dropout: float) -> None:
        super().__init__()
        self.ln1, self.ln2 = nn.LayerNorm(width), nn.LayerNorm(width)
        self.qkv, self.o = nn.Linear(width, 3 * width), nn.Linear(width, width)
        self.f1, self.f2 = nn.Linear(width, 4 * width), nn.Linear(4 * width, width)
        self.dropout = dropout

    def forward(self, x: Tensor, mask: Tensor | None) -> Tensor:
        """(batch, time, width) -> the same."""
        batch, time, width = x.shape
        heads = max(1, width // HEAD_WIDTH)
        parts = self.qkv(self.ln1(x)).view(batch, time, 3, heads, width // heads)
        q, k, v = parts.permute(2, 0, 3, 1, 4).unbind(0)
        if mask is None:  # written out, because this form exports cleanly
            scale = (width // heads) ** -0.5
            attended = torch.softmax(q @ k.transpose(-1, -2) * scale, -1) @ v
        else:
            attended = functional.scaled_dot_product_attention(q, k, v, attn_mask=mask)
        attended = self.o(attended.transpose(1, 2).reshape(batch, time, width))
        x = x + functional.dropout(attended, self.dropout, self.training)
        widened = self.f2(functional.gelu(self.f1(self.ln2(x))))
        return x + functional.dropout(widened, self.dropout, self.training)


class EarNetwork(nn.Module):
    """Log-mel (batch, 80, frames) -> log-probabilities of phones (batch, ceil(frames / 2), 40)."""

    def __init__(self, width: int = 384, layers: int = 4, dropout: float = 0.1) -> None:
        super().__init__()
        self.c1 = nn.Conv1d(MEL_BANDS, width, 3, padding=1)
        self.c2 = nn.Conv1d(width, width, 3, stride=2, padding=1)
        self.layers = nn.ModuleList(Layer(width, dropout) for _ in range(layers))
        self.ln, self.head = nn.LayerNorm(width), nn.Linear(width, len(PHONES))

    def forward(self, mel: Tensor, frames: Tensor | None = None) -> Tensor:
        """``frames`` are the true lengths of a padded batch."""
        x = functional.gelu(self.c1(mel))
        mask = None
        if frames is not None:
            inside = torch.arange(x.shape[2], device=x.device)[None] < frames[:, None]
            x = x * inside[:, None]
        x = functional.gelu(self.c2(x)).transpose(1, 2)
        if frames is not None:
            steps = torch.arange(x.shape[1], device=x.device)[None]
            mask = (steps < ((frames + 1) // 2)[:, None])[:, None, None]
        x = x + sinusoids(x.shape[1], x.shape[2], x.device)
        for layer in self.layers:
            x = layer(x, mask)
        return functional.log_softmax(self.head(self.ln(x)).float(), -1)

    def load_whisper(self, weights: dict[str, npt.NDArray[np.float32]]) -> None:
        """Take the encoder's weights as `read_ct2` names them; the head stays random."""
        named = {
            "c1": "conv1",
            "c2": "conv2",
            "ln": "layer_norm",
        }
        for n in range(len(self.layers)):
            attention, feed = f"layer_{n}/self_attention", f"layer_{n}/ffn"
            named |= {
                f"layers.{n}.ln1": f"{attention}/layer_norm",
                f"layers.{n}.qkv": f"{attention}/linear_0",
                f"layers.{n}.o": f"{attention}/linear_1",
                f"layers.{n}.ln2": f"{feed}/layer_norm",
                f"layers.{n}.f1": f"{feed}/linear_0",
                f"layers.{n}.f2": f"{feed}/linear_1",
            }
        state = self.state_dict()
        for ours, theirs in named.items():
            norm = theirs.endswith("layer_norm")
            for end, other in (
                ("weight", "gamma" if norm else "weight"),
                ("bias", "beta" if norm else "bias"),
            ):
                state[f"{ours}.{end}"] = torch.tensor(weights[f"{theirs}/{other}"])
        self.load_state_dict(state)
