"""Train the finder's network on composed scenes: fixed seeds, steps and order.

    python train.py MATERIALS OUT --steps 9000 [--rooms ROOMS.npz] [--start WEIGHTS.pt]

Prints the loss every 250 steps and writes ``weights.pt`` (moving average) and ``finder.onnx``.
"""

from __future__ import annotations

import argparse
import hashlib
import math
import multiprocessing
import time
from pathlib import Path

import cv2
import numpy as np
import torch
import torch.nn.functional as F
from materials import load
from network import Finder, loss
from patches import Patch, draw
from scenes import KINDS, MAX_SHEETS, Bank, Batch, Composer, mip_levels
from torch import nn

SIDE_PX = 512
COUNTS = {"sheet": 7000, "card": 2500, "decoy": 7000, "tape": 600, "occluder": 1200, "surface": 1000}
_materials = None


def _drawn(task: tuple[int, int, int]) -> Patch:
    kind, number, seed = task
    return draw(kind, number, _materials, seed)  # type: ignore[arg-type]


def banks(share: float, seed: int, device: str, workers: int) -> dict[str, Bank]:
    """Draw the banks of patches on all processors."""
    out = {}
    with multiprocessing.get_context("fork").Pool(workers) as pool:
        for kind, name in enumerate(KINDS):
            count = max(8, int(COUNTS[name] * share))
            patches = pool.map(_drawn, [(kind, i, seed) for i in range(count)], chunksize=16)
            textures = torch.from_numpy(np.stack([p.texture.transpose(2, 0, 1) for p in patches]))
            values = [torch.tensor([getattr(p, f) for p in patches], device=device)
                      for f in ("ratio", "corner_radius", "thickness")]  # fmt: skip
            out[name] = Bank(mip_levels(textures.to(device), 5), *values)
    return out


def square(pictures: list[np.ndarray]) -> torch.Tensor:
    """Cut pictures to squares and stack them."""
    out = []
    for p in pictures:
        side = min(p.shape[:2])
        y, x = (p.shape[0] - side) // 2, (p.shape[1] - side) // 2
        out.append(cv2.resize(p[y : y + side, x : x + side], (384, 384), interpolation=cv2.INTER_AREA))
    return torch.from_numpy(np.stack(out).transpose(0, 3, 1, 2).copy())


class Rooms:
    """Path-traced rooms with their sheets, cut at random."""

    def __init__(self, path: Path, device: str) -> None:
        pack = np.load(path)
        pieces = np.split(pack["data"], np.cumsum(pack["lengths"])[:-1])
        pictures = [cv2.imdecode(p, cv2.IMREAD_COLOR) for p in pieces]
        self.pictures = [torch.from_numpy(p.transpose(2, 0, 1).copy()).to(device) for p in pictures]
        self.corners = torch.from_numpy(pack["corners"]).float().to(device)  # (R, MAX, 4, 2)
        self.kinds = torch.from_numpy(pack["kinds"]).to(device)

    def batch(self, n: int, side: int, g: torch.Generator, composer: Composer) -> Batch:
        """Cut a batch: the whole picture letterboxed, or a part of it around anything."""
        device = self.corners.device
        out = torch.full((n, 3, side, side), 114 / 255, device=device)
        corners = torch.zeros(n, MAX_SHEETS, 4, 2, device=device)
        kinds = torch.zeros(n, MAX_SHEETS, dtype=torch.long, device=device)
        draws = torch.rand(n, 6, generator=g, device=device).cpu().numpy()
        for i in range(n):
            r = draws[i]
            k = int(r[0] * len(self.pictures))
            picture = self.pictures[k]
            h, w = picture.shape[1:]
            zoom = 1.0 if r[1] < 0.4 else 0.15 + 0.85 * r[2]
            ch, cw = int(h * zoom), int(w * zoom)
            y, x = int(r[3] * (h - ch)), int(r[4] * (w - cw))
            scale = side / max(ch, cw)
            th, tw = int(ch * scale), int(cw * scale)
            cut = F.interpolate(
                picture[None, :, y : y + ch, x : x + cw].float() / 255, size=(th, tw), mode="area"
            )[0]
            oy, ox = (side - th) // 2, (side - tw) // 2
            out[i, :, oy : oy + th, ox : ox + tw] = cut
            q = (self.corners[k] + 0.5 - torch.tensor([x, y], device=device)) * scale - 0.5
            q = q + torch.tensor([ox, oy], device=device)
            middle = q.mean(1)
            low = torch.tensor([ox, oy], device=device)
            high = torch.tensor([ox + tw, oy + th], device=device)
            whole = ((q > low - 2) & (q < high + 2)).all(-1).all(-1) & (self.kinds[k] > 0)
            cut_off = (self.kinds[k] > 0) & ~whole & ((middle > low) & (middle < high)).all(-1)
            corners[i], kinds[i] = q, torch.where(whole, self.kinds[k], 0)
            for m in cut_off.nonzero()[:, 0].tolist():  # half a sheet is neither: grey it out
                a, b = q[m].amin(0).clamp(0, side - 1).long(), q[m].amax(0).clamp(0, side - 1).long()
                out[i, :, a[1] : b[1] + 1, a[0] : b[0] + 1] = 114 / 255
        noise = torch.randn(out.shape, generator=g, device=device) * 0.012
        gain = (torch.randn(n, 3, 1, 1, generator=g, device=device) * 0.08).exp()
        return Batch((out * gain + noise).clamp(0, 1), corners, kinds)


def steps_in(seconds: float, composer: Composer, net: Finder, batch: int, device: str) -> int:
    """Measure how many steps fit into a time."""
    net = net.to(memory_format=torch.channels_last)
    begun, composing = 0.0, 0.0
    for k in range(50):
        if k == 20:
            begun, composing = time.time(), 0.0
        since = time.time()
        with torch.no_grad():
            scenes = composer.compose(batch)
        if device == "cuda":
            torch.cuda.synchronize()
        composing += time.time() - since
        x = (scenes.pictures - 0.5).contiguous(memory_format=torch.channels_last)
        with torch.autocast(device, dtype=torch.bfloat16, enabled=device == "cuda"):
            out = net(x)
        total, _ = loss(out, scenes)
        total.backward()
        total.item()
    each = (time.time() - begun) / 30
    print(f"{each * 1e3:.0f} ms a step, {composing / 30 * 1e3:.0f} of them composing", flush=True)
    return int(seconds / each) // 100 * 100


def export(net: Finder, path: Path) -> str:
    """Write the network as ONNX; returns the file's SHA-256."""
    net = net.eval().float().cpu()
    torch.onnx.export(
        net, (torch.zeros(1, 3, SIDE_PX, SIDE_PX),), str(path), opset_version=13,
        input_names=["picture"], output_names=["maps"], dynamo=False,
    )  # fmt: skip
    return hashlib.sha256(path.read_bytes()).hexdigest()


def main() -> None:
    """Train."""
    global _materials
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("materials", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("--steps", type=int, default=9000)
    parser.add_argument("--batch", type=int, default=64)
    parser.add_argument("--rate", type=float, default=3e-3)
    parser.add_argument("--share", type=float, default=1.0, help="of the patches to draw")
    parser.add_argument("--seed", type=int, default=11)
    parser.add_argument("--workers", type=int, default=16)
    parser.add_argument("--rooms", type=Path)
    parser.add_argument("--start", type=Path)
    parser.add_argument("--budget-s", type=float, help="measure the speed and choose the steps")
    args = parser.parse_args()
    device = "cuda" if torch.cuda.is_available() else "cpu"
    begun = time.time()
    args.out.mkdir(parents=True, exist_ok=True)
    backgrounds, _materials = load(args.materials)
    drawn = banks(args.share, args.seed, device, args.workers)
    print(f"{time.time() - begun:.0f} s: patches drawn", flush=True)
    g = torch.Generator(device).manual_seed(args.seed)
    composer = Composer(drawn, square(backgrounds).to(device), SIDE_PX, g)
    rooms = Rooms(args.rooms, device) if args.rooms else None
    torch.manual_seed(args.seed)
    torch.backends.cudnn.benchmark = True
    net = Finder().to(device).to(memory_format=torch.channels_last)
    if args.start:
        net.load_state_dict(torch.load(args.start, map_location=device))
    average = Finder().to(device).eval()
    average.load_state_dict(net.state_dict())
    print(sum(p.numel() for p in net.parameters()), "parameters", flush=True)
    decayed = [p for p in net.parameters() if p.ndim > 1]
    plain = [p for p in net.parameters() if p.ndim <= 1]
    optimiser = torch.optim.AdamW(
        [{"params": decayed, "weight_decay": 0.01}, {"params": plain, "weight_decay": 0.0}], lr=args.rate
    )
    if args.budget_s:
        args.steps = steps_in(args.budget_s, composer, Finder().to(device), args.batch, device)
        print("chosen: --steps", args.steps, flush=True)
        g.manual_seed(args.seed)
    sums: dict[str, float] = {}
    started = time.time()
    for step in range(args.steps):
        rate = args.rate * min(1, (step + 1) / 300) * (
            0.5 * (1 + math.cos(math.pi * step / args.steps)) + 0.003
        )
        for group in optimiser.param_groups:
            group["lr"] = rate
        with torch.no_grad():
            if rooms is not None and step % 6 == 5:
                batch = rooms.batch(args.batch, SIDE_PX, g, composer)
            else:
                batch = composer.compose(args.batch)
        x = (batch.pictures - 0.5).contiguous(memory_format=torch.channels_last)
        with torch.autocast(device, dtype=torch.bfloat16, enabled=device == "cuda"):
            out = net(x)
        total, parts = loss(out, batch)
        optimiser.zero_grad(set_to_none=True)
        total.backward()
        nn.utils.clip_grad_norm_(net.parameters(), 5.0)
        optimiser.step()
        with torch.no_grad():
            keep = min(0.9985, (1 + step) / (10 + step))
            for mine, new in zip(average.state_dict().values(), net.state_dict().values(), strict=True):
                if mine.dtype.is_floating_point:
                    mine.lerp_(new, 1 - keep)
                else:
                    mine.copy_(new)
        if step % 10 == 0:
            for name, value in parts.items():
                sums[name] = sums.get(name, 0.0) + value.item()
        if (step + 1) % 250 == 0 or (device == "cpu" and step % 10 == 9):
            n = 25 if (step + 1) % 250 == 0 else 1
            spread = " ".join(f"{k} {v / n:.4f}" for k, v in sums.items())
            print(f"{time.time() - started:6.1f} s step {step + 1} {spread}", flush=True)
            sums = {}
        if (step + 1) % 2000 == 0:
            torch.save(average.state_dict(), args.out / "weights.pt")
    torch.save(average.state_dict(), args.out / "weights.pt")
    (args.out / "finder.sha256").write_text(export(average, args.out / "finder.onnx") + "\n")
    print(f"{time.time() - begun:.0f} s in all, torch {torch.__version__}", flush=True)


if __name__ == "__main__":
    main()
