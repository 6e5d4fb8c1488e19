"""Take the mean of networks that went on from the same weights.

    python mean.py MATERIALS OUT WEIGHTS.pt SHARE WEIGHTS.pt SHARE ...

What a mean network's filters give varies less than what its parts' give, so that the means of their
normalisations do not suit it: these are taken anew, from scenes composed for it.
"""

from __future__ import annotations

import sys
from pathlib import Path

import torch
import train
from materials import load
from network import Finder
from scenes import Composer
from torch import Tensor, nn

SEED, BATCHES, BATCH, BANK_SHARE, WORKERS = 61, 4, 192, 0.1, 16


def some_scenes(materials: Path, device: str) -> list[Tensor]:
    """Compose the scenes by which normalisations are set."""
    backgrounds, train._materials = load(materials)
    drawn = train.banks(BANK_SHARE, SEED, device, WORKERS)
    g = torch.Generator(device).manual_seed(SEED)
    composer = Composer(drawn, train.square(backgrounds).to(device), train.SIDE_PX, g)
    with torch.no_grad():
        return [composer.compose(BATCH).pictures - 0.5 for _ in range(BATCHES)]


def mean(parts: list[tuple[dict[str, Tensor], float]], scenes: list[Tensor]) -> Finder:
    """Mix networks of the same build, weight by weight."""
    first = parts[0][0]
    net = Finder().to(scenes[0].device)
    net.load_state_dict(
        {
            name: sum(weights[name] * share for weights, share in parts)
            if value.is_floating_point()
            else value
            for name, value in first.items()
        }
    )
    for module in net.modules():
        if isinstance(module, nn.BatchNorm2d):
            module.reset_running_stats()
            module.momentum = None  # each batch counts the same
    net.train()
    with torch.no_grad():
        for pictures in scenes:
            net(pictures)
    return net.eval()


if __name__ == "__main__":
    device = "cuda:0" if torch.cuda.is_available() else "cpu"
    out = Path(sys.argv[2])
    out.mkdir(parents=True, exist_ok=True)
    parts = [
        (torch.load(path, map_location=device), float(share))
        for path, share in zip(sys.argv[3::2], sys.argv[4::2], strict=True)
    ]
    net = mean(parts, some_scenes(Path(sys.argv[1]), device))
    torch.save(net.state_dict(), out / "weights.pt")
    print(train.export(net, out / "finder.onnx"))
