"""Path-traced rooms as scenes to learn from: their sheets, and what the finder saw in them.

ROOMS holds ``index.json``: a list of objects with ``file``, ``truth`` as for gather.py, and
``seen``, candidates (4, 2) px.
"""

from __future__ import annotations

import json
import math
from pathlib import Path

import cv2
import numpy as np
import torch
import torch.nn.functional as F
from numpy.typing import NDArray
from scenes import MAX_DECOYS, MAX_SHEETS, Batch
from torch import Tensor

SEEN, ROOM_PX = 40, 1600
GREY = 114 / 255
TRIES = 6
SMALLEST_VIEW_PX, LARGEST_VIEW_PX = 280, 1700
LEAST_SHEET_PX = 10


def clockwise(quad: NDArray[np.float32]) -> NDArray[np.float32]:
    """Order corners clockwise on screen."""
    return quad if cv2.contourArea(quad, True) > 0 else quad[::-1].copy()


class Rooms:
    """Path-traced rooms at their own size, with their sheets and what the finder saw in them."""

    def __init__(self, folder: Path, fold: int, device: str) -> None:
        """Read all rooms but those of one fold of two; all where the fold is below 0."""
        index = json.loads((folder / "index.json").read_text())
        chosen = [e for k, e in enumerate(index) if fold < 0 or k % 2 != fold]
        chosen = [e for e in chosen if not e.get("markers")]  # a page of markers is a sheet, too
        n = len(chosen)
        pictures = np.full((n, 3, ROOM_PX, ROOM_PX), 114, np.uint8)
        corners = np.zeros((n, MAX_SHEETS, 4, 2), np.float32)
        kinds, listed = np.zeros((n, MAX_SHEETS), np.int64), np.zeros((n, SEEN, 4, 2), np.float32)
        sizes = np.zeros((n, 2), np.float32)
        for k, entry in enumerate(chosen):
            picture = cv2.imread(str(folder / entry["file"]))
            h, w = picture.shape[:2]
            sizes[k] = min(w, ROOM_PX), min(h, ROOM_PX)
            pictures[k, :, :h, :w] = picture.transpose(2, 0, 1)[:, :ROOM_PX, :ROOM_PX]
            for m, truth in enumerate(entry["truth"][:MAX_SHEETS]):
                corners[k, m] = clockwise(np.array(truth["corners"], np.float32))
                kinds[k, m] = 1 + (min(truth["size"]) < 100)
            for m, quad in enumerate(entry["seen"][:SEEN]):
                listed[k, m] = quad
        self.pictures = torch.from_numpy(pictures).to(device)
        self.corners, self.kinds = (torch.from_numpy(a).to(device) for a in (corners, kinds))
        self.listed = torch.from_numpy(listed).to(device)
        self.sizes = torch.from_numpy(sizes).to(device)

    def draw(self, n: int, g: torch.Generator) -> tuple[Batch, Tensor]:
        """Draw some, mirrored and toned anew."""
        device = self.pictures.device
        at = torch.randint(0, len(self.pictures), (n,), generator=g, device=device)
        x = self.pictures[at].float() / 255
        last = x.shape[-1] - 1
        q, listed = self.corners[at], self.listed[at]
        draws = torch.rand(2, generator=g, device=device).tolist()
        if draws[0] < 0.5:
            x = x.flip(-1)
            q, listed = (
                torch.stack([last - p[..., 0], p[..., 1]], -1)[..., [0, 3, 2, 1], :]
                for p in (q, listed)
            )
        if draws[1] < 0.3:  # a smaller copy
            x = F.avg_pool2d(x, 2)
            q, listed = (q - 0.5) / 2, (listed - 0.5) / 2
        empty = torch.zeros(n, MAX_DECOYS, 4, 2, device=device)
        return Batch(toned(x, g), q, self.kinds[at], empty), listed

    def crops(self, n: int, side: int, g: torch.Generator) -> Batch:
        """Cut views out of rooms, whole and near, with every sheet in view or out of it."""
        device = self.pictures.device
        at = torch.randint(0, len(self.pictures), (n,), generator=g, device=device)
        q, kinds, size = self.corners[at], self.kinds[at], self.sizes[at]
        there = kinds > 0

        def u(*shape: int) -> Tensor:
            return torch.rand(*shape, generator=g, device=device)

        low, high = math.log(SMALLEST_VIEW_PX), math.log(LARGEST_VIEW_PX)
        across = (low + (high - low) * u(TRIES, n)).exp()
        whole = size.amax(1)
        across = torch.where(u(TRIES, n) < 0.2, whole * (1 + 0.1 * u(TRIES, n)), across)
        across[-1] = whole
        first = torch.where(there[:, :1], q[:, 0].mean(1), size / 2)
        near = first + (u(TRIES, n, 2) - 0.5) * across[..., None] * 0.8
        anywhere = u(TRIES, n, 2) * size
        middle = torch.where(u(TRIES, n, 1) < 0.5, near, anywhere)
        half = across[..., None] / 2
        # a view larger than the room holds all of it; a smaller one stays inside
        inside = torch.maximum(torch.minimum(middle, size - half), half)
        middle = torch.where(2 * half > size, size / 2, inside)
        middle[-1] = size / 2
        low_px, high_px = (middle - half)[:, :, None], (middle + half)[:, :, None]
        held = ((q > low_px[..., None, :]) & (q < high_px[..., None, :])).all(-1).all(-1)
        apart = ((q.amax(2) < low_px) | (q.amin(2) > high_px)).any(-1)
        sound = (held | apart | ~there).all(-1)
        sound[-1] = True
        pick = sound.float().argmax(0)
        row = torch.arange(n, device=device)
        across, start = across[pick, row], (middle - half)[pick, row]
        held = held[pick, row] & there
        scale = side / across
        x = torch.empty(n, 3, side, side, device=device)
        t = (torch.arange(side, device=device) + 0.5) / side
        for k in range(n):  # each at its own size: a mean of the px that one of the view covers
            level, times = self.pictures[at[k]][None].float() / 255 - GREY, 1
            while float(across[k]) / side / times > 1.5:
                level, times = F.avg_pool2d(level, 2), times * 2
            px = start[k][:, None] + t * across[k]  # edges of px at whole numbers
            unit = (px / times) / level.shape[-1] * 2 - 1
            grid = torch.stack(torch.meshgrid(unit[0], unit[1], indexing="xy"), -1)
            x[k] = F.grid_sample(level, grid[None], padding_mode="zeros", align_corners=False)[0]
        q = (q + 0.5 - start[:, None, None]) * scale[:, None, None, None] - 0.5
        extent = (q.amax(2) - q.amin(2)).amax(-1)
        kinds = torch.where(held & (extent > LEAST_SHEET_PX), kinds, torch.zeros_like(kinds))
        q = torch.where((kinds > 0)[..., None, None], q, torch.zeros_like(q))
        x, outside = x + GREY, (x == 0).all(1, keepdim=True)
        x = torch.where(outside, torch.full_like(x, GREY), toned(x, g))
        return Batch(x, q, kinds, torch.zeros(n, MAX_DECOYS, 4, 2, device=device))


def toned(x: Tensor, g: torch.Generator) -> Tensor:
    """Develop pictures anew: white balance, exposure, contrast, a little noise."""
    n, device = len(x), x.device

    def normal(*shape: int) -> Tensor:
        return torch.randn(*shape, generator=g, device=device)

    gain = (normal(n, 3, 1, 1) * 0.06).exp() * (normal(n, 1, 1, 1) * 0.2).exp()
    power = (normal(n, 1, 1, 1) * 0.15).exp()
    noisy = 0.012 * torch.rand(n, 1, 1, 1, generator=g, device=device)
    return ((x * gain).clamp(0, 1) ** power + noisy * normal(*x.shape)).clamp(0, 1)
