"""Take the mean of weights: python mean.py OUT WEIGHTS.pt SHARE WEIGHTS.pt SHARE."""

from __future__ import annotations

import sys
from pathlib import Path

import torch
from network import Finder
from train import export


def mean(one: Path, share: float, other: Path, other_share: float) -> Finder:
    """Mix two networks of the same build, weight by weight."""
    a, b = (torch.load(path, map_location="cpu") for path in (one, other))
    mixed = {
        name: a[name] * share + b[name] * other_share if a[name].is_floating_point() else b[name]
        for name in a
    }
    net = Finder()
    net.load_state_dict(mixed)
    return net


if __name__ == "__main__":
    out = Path(sys.argv[1])
    out.mkdir(parents=True, exist_ok=True)
    net = mean(Path(sys.argv[2]), float(sys.argv[3]), Path(sys.argv[4]), float(sys.argv[5]))
    torch.save(net.state_dict(), out / "weights.pt")
    print(export(net, out / "finder.onnx"))
