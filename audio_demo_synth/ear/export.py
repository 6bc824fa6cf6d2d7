"""Average the weights of one or more runs and write the int8 ONNX file that ships.

    python -m audio_demo_synth.ear.export readback/speech/models/ear.onnx A.pt [B.pt ...]

Dynamic quantisation of the matrix products, per channel; the convolutions are stored in eight bits
and computed in float32. Prints how far the two files' probabilities lie apart.
"""

import argparse
import tempfile
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import torch
import torch.nn.functional as functional
from torch import Tensor, nn

from audio_demo_synth.ear.network import EarNetwork, sinusoids


class Exported(nn.Module):
    """One clip, no mask; the position table is computed, which saves 2.3 MB."""

    def __init__(self, network: EarNetwork) -> None:
        super().__init__()
        self.network = network

    def forward(self, mel: Tensor) -> Tensor:
        """(1, 80, frames) -> (1, ceil(frames / 2), phones)."""
        net = self.network
        x = functional.gelu(net.c2(functional.gelu(net.c1(mel)))).transpose(1, 2)
        x = x + sinusoids(x.shape[1], x.shape[2])
        for layer in net.layers:
            x = layer(x, None)
        return torch.log_softmax(net.head(net.ln(x)), -1)


def load_average(paths: Sequence[Path]) -> EarNetwork:
    """Load runs that started from the same weights, exported ones too, as their mean."""
    states = [
        read_exported(path) if path.suffix == ".onnx" else torch.load(path, map_location="cpu")
        for path in paths
    ]
    mean = {name: sum(state[name].float() for state in states) / len(states) for name in states[0]}
    layers = len({name.split(".")[1] for name in mean if name.startswith("layers")})
    network = EarNetwork(mean["ln.weight"].shape[0], layers)
    network.load_state_dict(mean)
    return network.eval()


def read_exported(path: Path) -> dict[str, Tensor]:
    """Read the weights of an exported model, as exact as int8 keeps them."""
    import onnx
    from onnx import numpy_helper

    graph = onnx.load(path).graph
    stored = {tensor.name: numpy_helper.to_array(tensor) for tensor in graph.initializer}
    plain = (name for name in stored if name.endswith((".bias", ".weight")))
    state = {name.removeprefix("network."): torch.tensor(stored[name]) for name in plain}
    for node in graph.node:
        if node.op_type == "MatMulInteger":
            base = node.input[1].removesuffix("_quantized")
            zero = stored[f"{base}_zero_point"].astype(np.float32)
            weight = (stored[node.input[1]] - zero) * stored[f"{base}_scale"]
            module = node.name.strip("/").rsplit("/", 1)[0].replace("/", ".")
            state[f"{module}.weight"] = torch.tensor(weight.T)
        elif node.op_type == "DequantizeLinear":
            small, scale = (stored[name] for name in node.input[:2])
            weight = small * scale[:, None, None]
            state[node.output[0].removeprefix("network.")] = torch.tensor(weight)
    return state


def store_convolutions_small(path: Path) -> None:
    """Keep each convolution's weights as int8 and a scale per output channel."""
    import onnx
    from onnx import helper, numpy_helper

    model = onnx.load(path)
    graph = model.graph
    wanted = {node.input[1] for node in graph.node if node.op_type == "Conv"}
    for tensor in [tensor for tensor in graph.initializer if tensor.name in wanted]:
        weights = numpy_helper.to_array(tensor)
        scale = (np.abs(weights).max(axis=(1, 2)) / 127).astype(np.float32)
        small = np.round(weights / scale[:, None, None]).astype(np.int8)
        names = f"{tensor.name}_small", f"{tensor.name}_scale"
        graph.initializer.remove(tensor)
        graph.initializer.append(numpy_helper.from_array(small, names[0]))
        graph.initializer.append(numpy_helper.from_array(scale, names[1]))
        node = helper.make_node("DequantizeLinear", names, [tensor.name], axis=0)
        graph.node.insert(0, node)
    onnx.save(model, path)


def export(network: EarNetwork, out: Path) -> float:
    """Write the int8 file; return the largest difference of a probability from float32."""
    import onnxruntime
    from onnxruntime.quantization import QuantType, quantize_dynamic

    model, example = Exported(network).eval(), torch.randn(1, 80, 400)
    out.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        whole = Path(folder) / "whole.onnx"
        torch.onnx.export(
            model,
            (example,),
            whole,
            dynamo=False,
            input_names=["mel"],
            output_names=["log_probabilities"],
            dynamic_axes={"mel": {2: "frames"}, "log_probabilities": {1: "steps"}},
            opset_version=17,
        )
        quantize_dynamic(
            whole,
            out,
            weight_type=QuantType.QInt8,
            per_channel=True,
            op_types_to_quantize=["MatMul"],
        )
        store_convolutions_small(out)
    session = onnxruntime.InferenceSession(str(out), providers=["CPUExecutionProvider"])
    mel = torch.randn(1, 80, 737)
    with torch.no_grad():
        expected = model(mel).exp().numpy()
    (heard,) = session.run(None, {"mel": mel.numpy()})
    return float(np.abs(np.exp(heard) - expected).max())


def main() -> None:
    """Export."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("out", type=Path)
    parser.add_argument("runs", type=Path, nargs="+")
    options = parser.parse_args()
    difference = export(load_average(options.runs), options.out)
    size = options.out.stat().st_size / 1e6
    print(f"{options.out}: {size:.2f} MB, probabilities at most {difference:.3f} from float32")


if __name__ == "__main__":
    main()
