"""Read weights back out of an exported network, whose normalisations were folded into it.

The network that comes out gives the same maps, and learns on as one that was never exported: each
normalisation is set to what its convolution gives on pictures like those to come, and each filter
to the length that filters begin with.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import onnx
import torch
from network import Conv, Finder
from onnx import numpy_helper
from torch import Tensor, nn


def read_back(path: Path, pictures: Tensor) -> Finder:
    """Read a network from an ONNX file and set its normalisations by pictures, less 0.5."""
    graph = onnx.load(str(path)).graph
    values = {one.name: numpy_helper.to_array(one) for one in graph.initializer}
    nodes = [node for node in graph.node if node.op_type == "Conv"]
    net = Finder().to(pictures.device).eval()
    order: list[nn.Conv2d] = []
    convolutions = [m for m in net.modules() if isinstance(m, nn.Conv2d)]
    hooks = [m.register_forward_hook(lambda m, _, __: order.append(m)) for m in convolutions]
    with torch.no_grad():
        net(pictures[:1])
    for hook in hooks:
        hook.remove()
    after = {m[0]: m[1] for m in net.modules() if isinstance(m, Conv)}
    with torch.no_grad():
        for convolution, node in zip(order, nodes, strict=True):
            weight, bias = (torch.tensor(values[name]) for name in node.input[1:3])
            norm = after.get(convolution)
            convolution.weight.copy_(weight)
            if norm is None:
                convolution.bias.copy_(bias)  # type: ignore[union-attr]
                continue
            norm.bias.copy_(bias)
        hooks = [m.register_forward_hook(_normalised(norm)) for m, norm in after.items()]
        net(pictures)
        for hook in hooks:
            hook.remove()
    return net


def _normalised(norm: nn.BatchNorm2d) -> Callable[[nn.Module, object, Tensor], Tensor]:
    def hook(convolution: nn.Module, _: object, out: Tensor) -> Tensor:
        weight = convolution.weight
        mean, variance = out.mean((0, 2, 3)), out.var((0, 2, 3))
        length = weight.flatten(1).norm(dim=1).clamp(min=1e-6)  # type: ignore[union-attr, operator]
        longer = (1 / 3) ** 0.5 / length  # uniform within 1 / sqrt(inputs), as they begin
        norm.running_mean.copy_(mean * longer)  # type: ignore[union-attr]
        norm.running_var.copy_(variance * longer**2)  # type: ignore[union-attr]
        norm.weight.copy_((variance * longer**2 + norm.eps).sqrt() / longer)
        norm.bias.add_(mean)
        weight.mul_(longer[:, None, None, None])  # type: ignore[operator]
        return out * longer[:, None, None]

    return hook
