"""The finder's network: what it is made of and what it learns from.

Input (N, 3, H, W), BGR in 0 to 1 less 0.5. Output (N, 12, H/4, W/4): masks of sheet and of card,
edges, corners (logits), and the four corners' offsets from each cell in units of 64 px.
"""

from __future__ import annotations

import torch
import torch.nn.functional as F
from scenes import CELL, Batch
from torch import Tensor, nn

OFFSET_UNIT_PX = 64.0


class Conv(nn.Sequential):
    """Convolution, normalisation, and mostly a rectifier."""

    def __init__(
        self, i: int, o: int, k: int = 3, step: int = 1, groups: int = 1, act: bool = True
    ):
        layers: list[nn.Module] = [
            nn.Conv2d(i, o, k, step, k // 2, groups=groups, bias=False), nn.BatchNorm2d(o)
        ]  # fmt: skip
        super().__init__(*layers, *([nn.ReLU(inplace=True)] if act else []))


class Inverted(nn.Module):
    """Inverted residual: widen, filter each channel, narrow."""

    def __init__(self, i: int, o: int, step: int = 1, widen: int = 3, k: int = 3):
        super().__init__()
        h = i * widen
        self.keeps = step == 1 and i == o
        self.body = nn.Sequential(Conv(i, h, 1), Conv(h, h, k, step, h), Conv(h, o, 1, act=False))

    def forward(self, x: Tensor) -> Tensor:
        """Filter."""
        y: Tensor = self.body(x)
        return x + y if self.keeps else y


class Separable(nn.Sequential):
    """A filter for each channel, then a mixture."""

    def __init__(self, i: int, o: int, k: int = 5):
        super().__init__(Conv(i, i, k, 1, i, act=False), Conv(i, o, 1))


class Finder(nn.Module):
    """Encoder of six levels, decoder to a quarter of the input."""

    def __init__(self, widths: tuple[int, ...] = (16, 24, 48, 80, 128, 160), narrow: int = 48):
        super().__init__()
        a, b, c, d, e, f = widths
        self.stem = nn.Sequential(Conv(3, a, 3, 2), Conv(a, a, 3))
        self.stages = nn.ModuleList(
            [
                nn.Sequential(Inverted(a, b, 2, 4), Inverted(b, b), Inverted(b, b)),
                nn.Sequential(Inverted(b, c, 2, 4, 5), Inverted(c, c), Inverted(c, c, k=5)),
                nn.Sequential(
                    Inverted(c, d, 2, 4), Inverted(d, d, k=5), Inverted(d, d), Inverted(d, d, k=5)
                ),
                nn.Sequential(Inverted(d, e, 2, 3, 5), Inverted(e, e, k=5), Inverted(e, e, k=5)),
                nn.Sequential(Inverted(e, f, 2, 3, 5), Inverted(f, f, k=5)),
            ]
        )
        self.laterals = nn.ModuleList([Conv(w, narrow, 1, act=False) for w in widths[1:]])
        self.merges = nn.ModuleList(
            [nn.Sequential(Separable(narrow, narrow), Separable(narrow, narrow)) for _ in range(4)]
        )
        self.maps = nn.Sequential(
            Separable(narrow, narrow, 3), Conv(narrow, 32, 3), nn.Conv2d(32, 4, 1)
        )
        self.offsets = nn.Sequential(
            Separable(narrow, narrow, 5), Separable(narrow, 64, 5), nn.Conv2d(64, 8, 1)
        )
        nn.init.constant_(self.maps[-1].bias, -3.0)  # type: ignore[arg-type]

    def forward(self, x: Tensor) -> Tensor:
        """Look at pictures."""
        x = self.stem(x)
        levels = []
        for stage in self.stages:
            x = stage(x)
            levels.append(x)
        y: Tensor = self.laterals[4](levels[4])
        for k in (3, 2, 1, 0):
            y = F.interpolate(y, scale_factor=2.0, mode="nearest")
            y = self.merges[k](F.relu(y + self.laterals[k](levels[k])))
        return torch.cat([self.maps(y), self.offsets(y)], 1)


def labels(batch: Batch) -> tuple[Tensor, Tensor, Tensor]:
    """Draw labels on cells: sheets' shares (N, M, h, w), edges and corner peaks (N, h, w)."""
    _n, _, side, _ = batch.pictures.shape
    h, device = side // CELL, batch.pictures.device
    centre = torch.arange(h, device=device) * CELL + (CELL - 1) / 2
    y, x = torch.meshgrid(centre, centre, indexing="ij")
    q = batch.corners  # N, M, 4, 2
    present = (batch.kinds > 0)[..., None, None]
    inside = torch.full((*q.shape[:2], h, h), 1e9, device=device)
    near = inside.clone()
    peaks = torch.zeros_like(inside)
    for k in range(4):
        a, b = q[:, :, k], q[:, :, (k + 1) % 4]
        d = b - a
        length = d.norm(dim=-1).clamp(min=1e-3)[..., None, None]
        dx, dy = d[..., 0, None, None] / length, d[..., 1, None, None] / length
        rx, ry = x - a[..., 0, None, None], y - a[..., 1, None, None]
        across = dx * ry - dy * rx  # positive inside, corners being clockwise on screen
        along = dx * rx + dy * ry
        beyond = torch.maximum((-along).clamp(min=0), (along - length).clamp(min=0))
        inside = torch.minimum(inside, across)
        near = torch.minimum(near, (across**2 + beyond**2).sqrt())
        peaks = torch.maximum(peaks, (-(rx**2 + ry**2) / (2 * (1.1 * CELL) ** 2)).exp())
    share = (inside / CELL + 0.5).clamp(0, 1) * present
    edge = ((1.6 - near / CELL).clamp(0, 1) * present).amax(1)
    return share, edge, (peaks * present).amax(1)


def loss(out: Tensor, batch: Batch) -> tuple[Tensor, dict[str, Tensor]]:
    """Weigh masks, edges, corner peaks and offsets against the labels."""
    out = out.float()
    share, edge, peaks = labels(batch)
    n, _m, h, w = share.shape
    area = share.sum((2, 3)).clamp(min=1)
    of_kind = torch.stack(
        [(share * (batch.kinds == c)[..., None, None]).amax(1) for c in (1, 2)], 1
    )
    weight = 1 + (share * (500 / area).clamp(0, 12)[..., None, None]).amax(1)
    each = (
        F.binary_cross_entropy_with_logits(out[:, :2], of_kind, reduction="none") * weight[:, None]
    )
    parts = {"mask": each.mean() * 8, "hard": each.flatten(1).topk(200, 1)[0].mean() * 0.15}
    p = out[:, :2].sigmoid()
    has = of_kind.sum((2, 3)) > 0
    dice = 1 - (2 * (p * of_kind).sum((2, 3)) + 1) / (p.sum((2, 3)) + of_kind.sum((2, 3)) + 1)
    parts["dice"] = (dice * has).sum() / has.sum().clamp(min=1)
    strong = torch.tensor(4.0, device=out.device)
    parts["edge"] = F.binary_cross_entropy_with_logits(out[:, 2], edge, pos_weight=strong) * 3
    c = out[:, 3].sigmoid().clamp(1e-4, 1 - 1e-4)
    top = (peaks > 0.88).float()
    focal = top * (1 - c) ** 2 * c.log() + (1 - top) * (1 - peaks) ** 4 * c**2 * (1 - c).log()
    parts["corner"] = -focal.sum() / top.sum().clamp(min=1) * 0.5
    centre = torch.arange(h, device=out.device) * CELL + (CELL - 1) / 2
    y, x = torch.meshgrid(centre, centre, indexing="ij")
    said = out[:, 4:].reshape(n, 4, 2, h, w) * OFFSET_UNIT_PX + torch.stack([x, y])
    owner = share.argmax(1)  # which sheet a cell belongs to
    mine = (share.amax(1) > 0.5).float()
    row = torch.arange(n, device=out.device)[:, None, None]
    true = batch.corners[row, owner].permute(0, 3, 4, 1, 2)  # n, 4, 2, h, w
    size = area[row, owner].mul(CELL * CELL).sqrt()
    apart = (
        torch.stack([(said - true.roll(k, 1)).abs().mean((1, 2)) for k in range(4)], 1).amin(1)
        / size
    )  # which corner is called first is left open
    per = (apart * mine / area[row, owner]).sum()
    parts["offset"] = per / (batch.kinds > 0).sum().clamp(min=1) * 2
    return torch.stack(list(parts.values())).sum(), parts
