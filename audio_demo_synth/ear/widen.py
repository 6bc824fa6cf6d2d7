"""Make a quantised speech model's weights float32 again: three times as fast on many processors.

    python -m audio_demo_synth.ear.widen kokoro-v1.0.int8.onnx kokoro-v1.0.float.onnx

Dynamic quantisation of the activations is left out, so the voice is the model's own or better.
Needs onnx alone. Operators: ONNX and the contributed operators of onnxruntime.
"""

import argparse
from pathlib import Path

import numpy as np
import onnx
from onnx import helper, numpy_helper

FLOATED = {"MatMulInteger": "MatMul", "ConvInteger": "Conv"}


class Widener:
    """Rewrites one model in place."""

    def __init__(self, model: onnx.ModelProto) -> None:
        self.graph = model.graph
        self.stored = {tensor.name: tensor for tensor in model.graph.initializer}

    def widen(self) -> None:
        """Replace the nodes; the scales that follow them still apply."""
        nodes = [made for node in self.graph.node for made in self.replace(node)]
        del self.graph.node[:], self.graph.value_info[:]
        self.graph.node.extend(nodes)
        used = {name for node in nodes for name in node.input}
        kept = [tensor for tensor in self.graph.initializer if tensor.name in used]
        del self.graph.initializer[:]
        self.graph.initializer.extend(kept)

    def replace(self, node: onnx.NodeProto) -> list[onnx.NodeProto]:
        """What a node becomes."""
        if node.op_type == "DynamicQuantizeLinear":
            self.store(node.output[1], np.array(1.0))
            return [helper.make_node("Identity", node.input[:1], node.output[:1])]
        if node.name.endswith(("bias_quant_rounded", "bias_quantized_node")):
            return [helper.make_node("Identity", node.input, node.output)]
        if node.op_type in FLOATED:
            name = f"{node.input[1]}_float"
            zero = self.array(node.input[3]) if len(node.input) > 3 else np.array(0.0)
            zero = zero.reshape(-1, 1, 1) if zero.size > 1 and "Conv" in node.op_type else zero
            self.store(name, self.array(node.input[1]) - zero)
            made = helper.make_node(FLOATED[node.op_type], [node.input[0], name], node.output)
            made.attribute.extend(node.attribute)
            return [made]
        if node.op_type == "DynamicQuantizeLSTM":
            inputs = list(node.input[:8])
            for at, scale, zero in ((1, 8, 9), (2, 10, 11)):
                weight = self.array(node.input[at]) - self.spread(node.input[zero])
                weight = weight * self.spread(node.input[scale])
                inputs[at] = f"{node.input[at]}_float"
                self.store(inputs[at], weight.transpose(0, 2, 1))
            made = helper.make_node("LSTM", inputs, node.output)
            made.attribute.extend(node.attribute)
            return [made]
        return [node]

    def array(self, name: str) -> np.ndarray:
        """A stored tensor in float32."""
        return numpy_helper.to_array(self.stored[name]).astype(np.float32)

    def spread(self, name: str) -> np.ndarray:
        """A scale or zero point of each direction or column, over (directions, rows, columns)."""
        values = self.array(name)
        return values if values.size == 1 else values.reshape(len(values), 1, -1)

    def store(self, name: str, values: np.ndarray) -> None:
        """Add a tensor once."""
        if name not in self.stored:
            tensor = numpy_helper.from_array(values.astype(np.float32), name)
            self.stored[name] = tensor
            self.graph.initializer.append(tensor)


def main() -> None:
    """Widen one file."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("model", type=Path)
    parser.add_argument("out", type=Path)
    options = parser.parse_args()
    model = onnx.load(str(options.model))
    Widener(model).widen()
    onnx.save(model, str(options.out))
    print(f"{options.out}: {options.out.stat().st_size / 1e6:.0f} MB")


if __name__ == "__main__":
    main()
