"""The verifier: a small network that looks at one candidate, straightened, with what is around it.

Input (N, 6, 128, 128), BGR less 0.5 twice: the candidate fills the middle of the first three, with
a margin of MARGINS[0] times its side around it, and less of the last three. Output (N, 2): log-odds
of being a sheet, and a card, rightly outlined.
"""

from __future__ import annotations

import cv2
import numpy as np
import torch
import torch.nn.functional as F
from network import Conv, Inverted
from numpy.typing import NDArray
from scenes import Batch
from torch import Tensor, nn

VIEW_PX = 128
MARGINS = (0.39, 1.7)
GREY = 114 / 255
RIGHT, WRONG = 0.018, 0.045
"""Largest corner error as a share of the candidate's size: right up to the first, wrong from the
second."""
UNSURE_PX = 0.8  # added to both
HIDDEN = 0.25  # how often what is farther around is hidden while learning


class Verifier(nn.Module):
    """Five levels of filters, then an average."""

    def __init__(self, widths: tuple[int, ...] = (16, 24, 40, 56), last: int = 112):
        super().__init__()
        a, b, c, d = widths
        self.body = nn.Sequential(
            Conv(6, a, 3, 2),
            Inverted(a, a, 1, 2),
            Inverted(a, b, 2, 4),
            Inverted(b, b),
            Inverted(b, b, k=5),
            Inverted(b, c, 2, 4, 5),
            Inverted(c, c),
            Inverted(c, c, k=5),
            Inverted(c, d, 2, 3, 5),
            Inverted(d, d),
            Inverted(d, d, k=5),
            Conv(d, last, 1),
            nn.AvgPool2d(VIEW_PX // 16),
            nn.Flatten(),
            nn.Linear(last, 2),
        )

    def forward(self, x: Tensor) -> Tensor:
        """Judge straightened candidates."""
        y: Tensor = self.body(x)
        return y


def to_unit_square(quads: Tensor) -> Tensor:
    """Give the homographies (M, 3, 3) that take the unit square to quadrilaterals (M, 4, 2)."""
    p0, p1, p2, p3 = quads.unbind(1)
    s = p0 - p1 + p2 - p3
    d1, d2 = p1 - p2, p3 - p2
    turn = d1[:, 0] * d2[:, 1] - d1[:, 1] * d2[:, 0]
    turn = torch.where(turn.abs() < 1e-6, torch.full_like(turn, 1e-6), turn)
    g = (s[:, 0] * d2[:, 1] - s[:, 1] * d2[:, 0]) / turn
    h = (d1[:, 0] * s[:, 1] - d1[:, 1] * s[:, 0]) / turn
    along, down = p1 - p0 + g[:, None] * p1, p3 - p0 + h[:, None] * p3
    one = torch.ones_like(g)
    rows = [
        torch.stack([along[:, k], down[:, k], p0[:, k]], -1) for k in (0, 1)
    ] + [torch.stack([g, h, one], -1)]  # fmt: skip
    return torch.stack(rows, 1)


def straightened(pyramid: list[Tensor], owner: Tensor, quads: Tensor) -> Tensor:
    """Look candidates (M, 4, 2) up in their pictures: (M, 6, VIEW_PX, VIEW_PX)."""
    side = pyramid[0].shape[-1]
    extent = (quads - quads.roll(1, 1)).norm(dim=-1).amax(-1)
    square = to_unit_square(quads)
    views = []
    for margin in MARGINS:
        t = (torch.arange(VIEW_PX, device=quads.device) + 0.5) / VIEW_PX * (1 + 2 * margin) - margin
        v, u = torch.meshgrid(t, t, indexing="ij")
        flat = torch.stack([u, v, torch.ones_like(u)], -1).reshape(-1, 3)
        mapped = flat @ square.transpose(1, 2)
        # what lies beyond the horizon of the candidate's plane is behind the camera
        depth = mapped[..., 2:]
        at = mapped[..., :2] / depth.clamp(min=0.05)
        grid = ((at + 0.5) / side * 2 - 1).clamp(-9, 9)
        grid = torch.where(depth > 0.05, grid, torch.full_like(grid, -9.0))
        level = (extent * (1 + 2 * margin) / VIEW_PX).clamp(min=1).log2().round().long()
        level = level.clamp(max=len(pyramid) - 1)
        view = torch.zeros(len(quads), 3, VIEW_PX, VIEW_PX, device=quads.device)
        for k, pictures in enumerate(pyramid):
            which = (level == k).nonzero()[:, 0]
            if len(which):
                view[which] = F.grid_sample(
                    pictures[owner[which]] - GREY,
                    grid[which].reshape(-1, VIEW_PX, VIEW_PX, 2),
                    padding_mode="zeros",
                    align_corners=False,
                )
        views.append(view + (GREY - 0.5))
    return torch.cat(views, 1)


def pyramid_of(pictures: Tensor) -> list[Tensor]:
    """Halve pictures again and again."""
    levels = [pictures]
    for _ in range(4):
        levels.append(F.avg_pool2d(levels[-1], 2))
    return levels


class Candidates:
    """Draws candidates in scenes: right ones, ones that are a little off, and other things."""

    def __init__(self, generator: torch.Generator, device: str) -> None:
        self.g, self.device = generator, device

    def u(self, *shape: int, low: float = 0.0, high: float = 1.0) -> Tensor:
        """Draw uniform numbers."""
        return low + (high - low) * torch.rand(*shape, generator=self.g, device=self.device)

    def normal(self, *shape: int) -> Tensor:
        """Draw normal numbers."""
        return torch.randn(*shape, generator=self.g, device=self.device)

    def shaken(self, quads: Tensor) -> Tensor:
        """Move corners by as little as refined ones are off."""
        size = extent_of(quads)[:, None, None]
        return quads + self.normal(*quads.shape) * (0.005 * size + 0.2)

    def missed(self, quads: Tensor) -> Tensor:
        """Draw outlines that are off: a side elsewhere, a corner, too large, too small, aside."""
        m = len(quads)
        middle = quads.mean(1, keepdim=True)
        how = self.u(m)
        square = torch.tensor([[0.0, 0], [1, 0], [1, 1], [0, 1]], device=self.device)
        unit = square.expand(m, 4, 2).clone()
        # one side or two, in or out
        for chance in (1.0, 0.4):
            side = torch.randint(0, 4, (m,), generator=self.g, device=self.device)
            by = self.u(m, low=0.05, high=0.5) * torch.where(self.u(m) < 0.6, 1.0, -1.0)
            by = by * (self.u(m) < chance)
            axis, end = side % 2, (side // 2).float()
            for k in (0, 1):
                move = (axis == k)[:, None] & (unit[..., k] == end[:, None])
                step = torch.where(end == 0, by, -by)[:, None]
                unit[..., k] = torch.where(move, unit[..., k] + step, unit[..., k])
        moved = unit_to_picture(quads, unit)
        scale = torch.where(
            self.u(m) < 0.6, self.u(m, low=0.4, high=0.93), self.u(m, low=1.08, high=1.7)
        )[:, None, None]
        scaled = middle + (quads - middle) * scale
        corner = torch.randint(0, 4, (m,), generator=self.g, device=self.device)
        one = F.one_hot(corner, 4)[..., None] * self.normal(m, 1, 2)
        bent = quads + one * extent_of(quads)[:, None, None] * 0.13
        aside = quads + self.normal(m, 1, 2) * extent_of(quads)[:, None, None] * 0.25
        pick = how[:, None, None]
        out = torch.where(pick < 0.55, moved, torch.where(pick < 0.8, scaled, bent))
        return torch.where(pick > 0.92, aside, out)

    def anywhere(self, n: int, each: int, side: int) -> Tensor:
        """Draw quadrilaterals anywhere."""
        m = n * each
        long = (self.u(m, low=-3.3, high=-0.6)).exp() * side
        ratio = self.u(m, low=1.0, high=1.8)
        half = torch.stack([long / ratio, long], -1)[:, None] / 2
        square = torch.tensor([[-1.0, -1], [1, -1], [1, 1], [-1, 1]], device=self.device)
        square = square * (1 + 0.08 * self.normal(m, 4, 2))
        turn = self.normal(m) * 0.08 + np.pi / 2 * (self.u(m) < 0.5)
        c, s = turn.cos(), turn.sin()
        local = square * half
        spun = torch.stack(
            [c[:, None] * local[..., 0] - s[:, None] * local[..., 1],
             s[:, None] * local[..., 0] + c[:, None] * local[..., 1]], -1)  # fmt: skip
        return spun + (self.u(m, 1, 2, low=0.03, high=0.97) * side)

    def draw(self, batch: Batch, listed: Tensor | None, most: int) -> tuple[Tensor, ...]:
        """Draw candidates of a batch: owners, corners, labels (M, 2), weights (M,)."""
        n, _, side, _ = batch.pictures.shape
        everyone = torch.arange(n, device=self.device)
        groups: list[tuple[Tensor, Tensor]] = []

        def add(quads: Tensor, change: str) -> None:
            owner = everyone.repeat_interleave(quads.shape[1])
            flat = quads.reshape(-1, 4, 2)
            there = extent_of(flat) > 8
            owner, flat = owner[there], flat[there]
            if len(flat):
                groups.append((owner, getattr(self, change)(flat)))

        add(batch.corners, "shaken")
        add(batch.corners, "shaken")
        add(batch.corners, "missed")
        add(batch.corners, "missed")
        add(batch.decoys, "shaken")
        add(batch.decoys, "shaken")
        add(batch.decoys, "missed")
        add(self.anywhere(n, 1, side).reshape(n, 1, 4, 2), "shaken")
        if listed is not None:
            add(listed, "shaken")
        owner, quads = torch.cat([g[0] for g in groups]), torch.cat([g[1] for g in groups])
        kept = convex(quads).nonzero()[:, 0]
        kept = kept[torch.randperm(len(kept), generator=self.g, device=self.device)][:most]
        owner, quads = owner[kept], quads[kept]
        quads = self.started(quads)
        # right or wrong, held against every sheet of the scene
        true = batch.corners[owner]  # M, S, 4, 2
        off = torch.stack(
            [(quads[:, None] - true.roll(k, 2)).norm(dim=-1).amax(-1) for k in range(4)], -1
        ).amin(-1)
        there = batch.kinds[owner] > 0
        off = torch.where(there, off, torch.full_like(off, 1e9))
        nearest = off.argmin(1)
        row = torch.arange(len(quads), device=self.device)
        share = off[row, nearest] / extent_of(quads)
        slack = UNSURE_PX / extent_of(quads)
        kind = batch.kinds[owner][row, nearest]
        right = share < RIGHT + slack
        weight = (right | (share > WRONG + 2 * slack)).float()
        labels = torch.stack([right & (kind == 1), right & (kind == 2)], -1).float()
        return owner, quads, labels, weight

    def started(self, quads: Tensor) -> Tensor:
        """Start corners at the top-left as seen, clockwise; now and then elsewhere."""
        first = quads.sum(-1).argmin(1)
        other = torch.randint(0, 4, (len(quads),), generator=self.g, device=self.device)
        first = torch.where(self.u(len(quads)) < 0.15, other, first)
        order = (first[:, None] + torch.arange(4, device=self.device)) % 4
        return torch.gather(quads, 1, order[..., None].expand(-1, 4, 2))


def extent_of(quads: Tensor) -> Tensor:
    """Size of quadrilaterals: root of half the sum of their diagonals' squares."""
    a, b = quads[:, 2] - quads[:, 0], quads[:, 3] - quads[:, 1]
    return ((a**2).sum(-1) + (b**2).sum(-1)).div(2).sqrt()


def unit_to_picture(quads: Tensor, points: Tensor) -> Tensor:
    """Map points of the unit square by the homographies that take it to quadrilaterals."""
    flat = torch.cat([points, torch.ones_like(points[..., :1])], -1)
    mapped = flat @ to_unit_square(quads).transpose(1, 2)
    return mapped[..., :2] / mapped[..., 2:].clamp(min=0.05)


def convex(quads: Tensor) -> Tensor:
    """Which quadrilaterals are convex, clockwise on screen and not tiny."""
    a, b = quads - quads.roll(1, 1), quads.roll(-1, 1) - quads
    cross = a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0]
    sound = (cross > 4).all(-1) & (a.norm(dim=-1).amin(-1) > 4)
    return sound & (quads.abs() < 1e4).all(-1).all(-1)


def verifier_loss(odds: Tensor, labels: Tensor, weight: Tensor) -> Tensor:
    """Weigh log-odds against labels, the hardest half of the candidates for more."""
    each = F.binary_cross_entropy_with_logits(odds.float(), labels, reduction="none").sum(1)
    each = each * weight
    hardest = each.topk(max(1, len(each) // 8))[0]
    return each.sum() / weight.sum().clamp(min=1) + 0.3 * hardest.mean()


def rectangles_in(picture: NDArray[np.uint8], most: int = 12) -> NDArray[np.float32]:
    """List quadrilaterals around what stands out in a picture at several levels: (most, 4, 2)."""
    cv2.setNumThreads(1)
    lab = cv2.cvtColor(cv2.GaussianBlur(picture, (0, 0), 0.8), cv2.COLOR_BGR2LAB)
    found: list[tuple[float, NDArray[np.float32]]] = []
    known: set[tuple[int, int]] = set()  # places, so that one thing counts once over all levels
    side = picture.shape[0]
    edges = cv2.Canny(lab[..., 0], 25, 70)
    masks = [cv2.dilate(edges, np.ones((2, 2), np.uint8)) == 0]
    for plane in (lab[..., 0], 255 - lab[..., 0], lab[..., 1], lab[..., 2]):
        masks += [plane > level for level in np.quantile(plane, (0.35, 0.55, 0.7, 0.82, 0.92))]
    for mask in masks:
        contours, _ = cv2.findContours(
            mask.astype(np.uint8), cv2.RETR_LIST, cv2.CHAIN_APPROX_SIMPLE
        )
        for contour in contours:
            area = abs(cv2.contourArea(contour))
            if area < 120 or area > 0.6 * side * side:
                continue
            hull = cv2.convexHull(contour)
            box = cv2.boxPoints(cv2.minAreaRect(hull))
            fill = abs(cv2.contourArea(hull)) / max(abs(cv2.contourArea(box)), 1.0)
            if fill < 0.7:
                continue
            simple = cv2.approxPolyDP(hull, 0.03 * cv2.arcLength(hull, True), True)[:, 0]
            quad = simple.astype(np.float32) if len(simple) == 4 else box
            if cv2.contourArea(quad, True) < 0:
                quad = quad[::-1]
            x, y = (int(c) for c in quad.mean(0) / 6)
            if (x, y) in known:
                continue
            known.add((x, y))
            found.append((fill * area**0.25, quad))
    found.sort(key=lambda one: -one[0])
    out = np.zeros((most, 4, 2), np.float32)
    for k, (_, quad) in enumerate(found[:most]):
        out[k] = quad
    return out
