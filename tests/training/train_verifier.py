"""Train the verifier on candidates in composed scenes: fixed seeds, steps and order.

    python train_verifier.py MATERIALS OUT --steps 8000 [--start WEIGHTS.pt] [--rooms ROOMS]

Half of what it sees are composed scenes, the rest photographs without a sheet, and one part in six
path-traced rooms where there are any. ROOMS holds ``index.json``: a list of objects with ``file``,
``truth`` as for gather.py, and ``seen``, candidates (4, 2) px. Writes ``verifier.pt`` (moving
average) and ``verifier.onnx``.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import math
import multiprocessing
import sys
import time
from pathlib import Path

import cv2
import numpy as np
import torch
import train
from materials import load
from numpy.typing import NDArray
from scenes import MAX_DECOYS, MAX_SHEETS, Batch, Composer
from torch import Tensor, nn
from train import SIDE_PX, Pool, banks, square
from verifier import HIDDEN as HIDDEN_SHARE
from verifier import (
    MARGINS,
    VIEW_PX,
    Candidates,
    Verifier,
    pyramid_of,
    rectangles_in,
    straightened,
    verifier_loss,
)

sys.path.insert(0, str(Path(__file__).parents[2]))
from visualiser.rectification.finder.network import look, sightings

SEEN, SEEN_IN_BACKGROUND, ROOM_PX = 40, 8, 1600
HARD = 3
"""Times that a thing which the finder saw in a background is drawn."""


def export(net: Verifier, path: Path) -> str:
    """Write the network as ONNX; returns the file's SHA-256."""
    net = net.eval().float().cpu()
    torch.onnx.export(
        net, (torch.zeros(1, 6, VIEW_PX, VIEW_PX),), str(path), opset_version=13,
        input_names=["views"], output_names=["odds"], dynamo=False,
    )  # fmt: skip
    return hashlib.sha256(path.read_bytes()).hexdigest()


def listed_in(picture: NDArray[np.uint8]) -> NDArray[np.float32]:
    """List rectangles in the middle square of a background, px of the square."""
    return rectangles_in(np.ascontiguousarray(square([picture])[0].numpy().transpose(1, 2, 0)))


class Rooms:
    """Path-traced rooms at their own size, with their sheets and what the finder saw in them."""

    def __init__(self, folder: Path, fold: int, device: str) -> None:
        """Read all rooms but those of one fold of two; all where the fold is below 0."""
        index = json.loads((folder / "index.json").read_text())
        chosen = [e for k, e in enumerate(index) if fold < 0 or k % 2 != fold]
        n = len(chosen)
        pictures = np.full((n, 3, ROOM_PX, ROOM_PX), 114, np.uint8)
        corners = np.zeros((n, MAX_SHEETS, 4, 2), np.float32)
        kinds, listed = np.zeros((n, MAX_SHEETS), np.int64), np.zeros((n, SEEN, 4, 2), np.float32)
        for k, entry in enumerate(chosen):
            picture = cv2.imread(str(folder / entry["file"]))
            h, w = picture.shape[:2]
            pictures[k, :, :h, :w] = picture.transpose(2, 0, 1)[:, :ROOM_PX, :ROOM_PX]
            for m, truth in enumerate(entry["truth"][:MAX_SHEETS]):
                corners[k, m] = clockwise(np.array(truth["corners"], np.float32))
                kinds[k, m] = 1 + (min(truth["size"]) < 100)
            for m, quad in enumerate(entry["seen"][:SEEN]):
                listed[k, m] = quad
        self.pictures = torch.from_numpy(pictures).to(device)
        self.corners, self.kinds = (torch.from_numpy(a).to(device) for a in (corners, kinds))
        self.listed = torch.from_numpy(listed).to(device)

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
            x = torch.nn.functional.avg_pool2d(x, 2)
            q, listed = (q - 0.5) / 2, (listed - 0.5) / 2
        gain = (torch.randn(n, 3, 1, 1, generator=g, device=device) * 0.06).exp()
        bright = (torch.randn(n, 1, 1, 1, generator=g, device=device) * 0.2).exp()
        power = (torch.randn(n, 1, 1, 1, generator=g, device=device) * 0.15).exp()
        x = (x * gain * bright).clamp(0, 1) ** power
        empty = torch.zeros(n, MAX_DECOYS, 4, 2, device=device)
        return Batch(x, q, self.kinds[at], empty), listed


def clockwise(quad: NDArray[np.float32]) -> NDArray[np.float32]:
    """Order corners clockwise on screen."""
    return quad if cv2.contourArea(quad, True) > 0 else quad[::-1].copy()


def seen_in(picture: NDArray[np.uint8]) -> NDArray[np.float32]:
    """List what the finder sees in the middle square of a background, px of the square."""
    cv2.setNumThreads(1)
    small = np.ascontiguousarray(square([picture])[0].numpy().transpose(1, 2, 0)[..., ::-1])
    out = np.zeros((SEEN, 4, 2), np.float32)
    for k, one in enumerate(sightings(look(small, SIDE_PX))[:SEEN]):
        out[k] = one.corners_px
    return out


def main() -> None:
    """Read the arguments and train."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("materials", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("--steps", type=int, default=8000)
    parser.add_argument("--batch", type=int, default=512, help="candidates a step")
    parser.add_argument("--scenes", type=int, default=64, help="scenes that they are drawn in")
    parser.add_argument("--reuse", type=int, default=6, help="times a scene is drawn in")
    parser.add_argument("--pool", type=int, default=16000)
    parser.add_argument("--rate", type=float, default=3e-3)
    parser.add_argument("--share", type=float, default=1.0, help="of the patches to draw")
    parser.add_argument("--seed", type=int, default=21)
    parser.add_argument("--workers", type=int, default=16)
    parser.add_argument("--start", type=Path, help="weights to go on from")
    parser.add_argument("--rooms", type=Path, help="path-traced rooms with index.json")
    parser.add_argument("--fold", type=int, default=-1, help="fold of two left out of the rooms")
    parser.add_argument("--hard", action="store_true", help="add what the finder sees in them")
    parser.add_argument("--budget-s", type=float, help="stop in time: choose the steps")
    args = parser.parse_args()
    args.out.mkdir(parents=True, exist_ok=True)
    begun = time.time()
    device = "cuda" if torch.cuda.is_available() else "cpu"
    backgrounds, train._materials = load(args.materials)
    # processes are forked before OpenCV and torch have begun threads of their own
    with multiprocessing.get_context("fork").Pool(args.workers) as pool_of_workers:
        rectangles = np.stack(pool_of_workers.map(listed_in, backgrounds, chunksize=8))
        if args.hard:
            seen = np.stack(pool_of_workers.map(seen_in, backgrounds, chunksize=4))[
                :, :SEEN_IN_BACKGROUND
            ]
            print(int(seen.any((2, 3)).sum()), "things seen", flush=True)
            rectangles = np.concatenate([rectangles, *[seen] * HARD], 1)
    drawn = banks(args.share, args.seed, device, args.workers)
    pack = square(backgrounds)
    listed = torch.from_numpy(rectangles).to(device) * (SIDE_PX / pack.shape[-1])
    print(f"{time.time() - begun:.0f} s: {int((rectangles.any((2, 3))).sum())} rectangles listed")
    g = torch.Generator(device).manual_seed(args.seed)
    composer = Composer(drawn, pack.to(device), SIDE_PX, g)
    candidates = Candidates(g, device)
    rooms = Rooms(args.rooms, args.fold, device) if args.rooms else None
    torch.manual_seed(args.seed)
    net, average = Verifier().to(device), Verifier().to(device).eval()
    if args.start:
        net.load_state_dict(torch.load(args.start, map_location=device))
    average.load_state_dict(net.state_dict())
    print(sum(p.numel() for p in net.parameters()), "parameters; margins", MARGINS)
    optimiser = torch.optim.AdamW(net.parameters(), lr=args.rate, weight_decay=0.02)
    pool = Pool(args.pool, device)
    fresh = min(128, 2 * args.scenes)
    with torch.no_grad():
        for _ in range(max(2, args.pool // 16 // fresh)):
            pool.add(composer.compose(fresh))

    def one_step(step: int) -> Tensor:
        with torch.no_grad():
            if step % 6 < 3:
                batch, others = pool.draw(args.scenes, 8 * fresh, g), None
            elif step % 6 == 5 and rooms is not None:
                batch, others = rooms.draw(max(2, args.scenes // 4), g)
            else:
                at = composer.pick(args.scenes, len(listed))
                batch, others = composer.photographed(at), listed[at]
            owner, quads, labels, weight = candidates.draw(batch, others, args.batch)
            x = straightened(pyramid_of(batch.pictures), owner, quads)
            unseen = torch.rand(len(x), 1, 1, 1, generator=g, device=device) < HIDDEN_SHARE
            x[:, 3:] = torch.where(unseen, torch.full_like(x[:, 3:], 114 / 255 - 0.5), x[:, 3:])
            flipped = torch.rand(1, generator=g, device=device) < 0.5
            x = x.flip(-1) if bool(flipped) else x
        with torch.autocast(
            "cuda" if device == "cuda" else "cpu", dtype=torch.bfloat16, enabled=device == "cuda"
        ):
            odds = net(x)
        total = verifier_loss(odds, labels, weight)
        optimiser.zero_grad(set_to_none=True)
        total.backward()
        nn.utils.clip_grad_norm_(net.parameters(), 5.0)
        optimiser.step()
        return torch.stack([total.detach(), (((odds > 0) == (labels > 0)).all(1) * weight).sum()
                            / weight.sum(), labels.sum() / len(labels)])  # fmt: skip

    per_fresh = max(1, fresh * args.reuse // args.scenes * 3 // 2)
    if args.budget_s:
        state = {k: v.clone() for k, v in net.state_dict().items()}
        for group in optimiser.param_groups:
            group["lr"] = 0.0
        for step in range(12):
            one_step(step)
        a = time.time()
        with torch.no_grad():
            for _ in range(3):
                pool.add(composer.compose(fresh))
        float(pool.corners.sum())
        b = time.time()
        for step in range(15):
            parts = one_step(step)
        float(parts.sum())
        c = time.time()
        each = (c - b) / 15 + (b - a) / 3 / per_fresh
        net.load_state_dict(state)
        args.steps = int((args.budget_s - (time.time() - begun)) / each / 1.06) // 100 * 100
        print(f"{(b - a) / 3:.2f} s to compose {fresh}, {(c - b) / 15:.3f} s a step")
        print(f"--steps {args.steps}")
    sums = torch.zeros(3, device=device)
    started = time.time()
    for step in range(args.steps):
        cosine = 0.5 * (1 + math.cos(math.pi * step / args.steps)) + 0.003
        for group in optimiser.param_groups:
            group["lr"] = args.rate * min(1, (step + 1) / 200) * cosine
        if step % per_fresh == 0:
            with torch.no_grad():
                pool.add(composer.compose(fresh))
        sums += one_step(step)
        with torch.no_grad():
            keep = min(0.998, (1 + step) / (10 + step))
            for mine, new in zip(
                average.state_dict().values(), net.state_dict().values(), strict=True
            ):
                if mine.dtype.is_floating_point:
                    mine.lerp_(new, 1 - keep)
                else:
                    mine.copy_(new)
        if (step + 1) % 250 == 0:
            cost, agreed, share = (sums / 250).tolist()
            print(
                f"{time.time() - started:6.1f} s step {step + 1} scenes {pool.made} loss {cost:.4f}"
                f" agreed {agreed:.4f} right {share:.3f}", flush=True,
            )  # fmt: skip
            sums.zero_()
        if (step + 1) % 250 == 0:
            torch.save(average.state_dict(), args.out / "verifier.pt")
    torch.save(average.state_dict(), args.out / "verifier.pt")
    digest = export(average, args.out / "verifier.onnx")
    (args.out / "verifier.sha256").write_text(digest + "\n")
    print(f"{time.time() - begun:.0f} s in all, torch {torch.__version__}, {digest}")


if __name__ == "__main__":
    main()
