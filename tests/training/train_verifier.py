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
from network import OFFSET_UNIT_PX, Finder
from numpy.typing import NDArray
from rooms import Rooms
from scenes import MAX_DECOYS, Batch, Composer
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
from visualiser.rectification.finder.network import Maps, look, sightings

SEEN_IN_BACKGROUND = 8
SEEN_IN_SCENE = 6
"""Things that the finder sees, of each background and scene."""
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


def seen_in(picture: NDArray[np.uint8]) -> NDArray[np.float32]:
    """List what the finder sees in the middle square of a background, px of the square."""
    cv2.setNumThreads(1)
    small = np.ascontiguousarray(square([picture])[0].numpy().transpose(1, 2, 0)[..., ::-1])
    out = np.zeros((SEEN_IN_BACKGROUND, 4, 2), np.float32)
    for k, one in enumerate(sightings(look(small, SIDE_PX))[:SEEN_IN_BACKGROUND]):
        out[k] = one.corners_px
    return out


def seen_in_maps(out: NDArray[np.float16]) -> NDArray[np.float32]:
    """List what the finder sees in a scene, from its network's maps."""
    cv2.setNumThreads(1)
    maps = np.asarray(out, np.float32)
    shares = 1 / (1 + np.exp(-np.clip(maps[:4], -30, 30)))
    offsets = maps[4:].reshape(4, 2, *maps.shape[1:]) * OFFSET_UNIT_PX
    quads = np.zeros((SEEN_IN_SCENE, 4, 2), np.float32)
    whole = Maps(*shares, offsets, 1.0, np.zeros(2), np.zeros(2))
    for k, one in enumerate(sightings(whole)[:SEEN_IN_SCENE]):
        quads[k] = one.corners_px
    return quads


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
    parser.add_argument("--finder", type=Path, help="weights of the finder that looks at scenes")
    parser.add_argument("--stop-s", type=float, default=1e9, help="stop after so long regardless")
    parser.add_argument("--budget-s", type=float, help="stop in time: choose the steps")
    args = parser.parse_args()
    args.out.mkdir(parents=True, exist_ok=True)
    begun = time.time()
    device = "cuda" if torch.cuda.is_available() else "cpu"
    backgrounds, train._materials = load(args.materials)
    # processes are forked before OpenCV and torch have begun threads of their own
    workers = multiprocessing.get_context("fork").Pool(args.workers)
    rectangles = np.stack(workers.map(listed_in, backgrounds, chunksize=8))
    if args.hard:
        seen = np.stack(workers.map(seen_in, backgrounds, chunksize=4))
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
    torch.backends.cudnn.benchmark = True
    net, average = Verifier().to(device), Verifier().to(device).eval()
    if args.start:
        net.load_state_dict(torch.load(args.start, map_location=device))
    average.load_state_dict(net.state_dict())
    print(sum(p.numel() for p in net.parameters()), "parameters; margins", MARGINS)
    optimiser = torch.optim.AdamW(net.parameters(), lr=args.rate, weight_decay=0.02)
    finder = None
    if args.finder:
        finder = Finder().to(device).eval()
        finder.load_state_dict(torch.load(args.finder, map_location=device))
    pool = Pool(args.pool, device, MAX_DECOYS + SEEN_IN_SCENE * bool(finder))
    fresh = min(128, 2 * args.scenes)

    @torch.no_grad()
    def refill() -> None:
        batch = composer.compose(fresh)
        if finder is not None:
            with torch.autocast("cuda", dtype=torch.bfloat16, enabled=device == "cuda"):
                out = finder(batch.pictures - 0.5)
            quads = workers.map(seen_in_maps, out.half().cpu().numpy(), chunksize=8)
            seen = torch.from_numpy(np.stack(quads)).to(device)
            batch = Batch(
                batch.pictures, batch.corners, batch.kinds, torch.cat([batch.decoys, seen], 1)
            )
        pool.add(batch)

    for _ in range(max(2, args.pool // 16 // fresh)):
        refill()

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
            odds = net(x.contiguous(memory_format=layout))
        total = verifier_loss(odds, labels, weight)
        optimiser.zero_grad(set_to_none=True)
        total.backward()
        nn.utils.clip_grad_norm_(net.parameters(), 5.0)
        optimiser.step()
        return torch.stack([total.detach(), (((odds > 0) == (labels > 0)).all(1) * weight).sum()
                            / weight.sum(), labels.sum() / len(labels)])  # fmt: skip

    per_fresh = max(1, fresh * args.reuse // args.scenes * 3 // 2)
    layout = torch.contiguous_format
    if args.budget_s:
        state = {k: v.clone() for k, v in net.state_dict().items()}
        for group in optimiser.param_groups:
            group["lr"] = 0.0
        spent = {}
        for tried in (torch.contiguous_format, torch.channels_last):
            layout = tried
            net.to(memory_format=layout)
            for step in range(12):
                parts = one_step(step)
            float(parts.sum())
            a = time.time()
            for step in range(12):
                parts = one_step(step)
            float(parts.sum())
            spent[layout] = time.time() - a
        layout = min(spent, key=lambda one: spent[one])
        net.to(memory_format=layout)
        print({str(one): round(cost / 12, 4) for one, cost in spent.items()})
        a = time.time()
        for _ in range(3):
            refill()
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
        done = step / args.steps
        if args.budget_s:  # a machine that has become slower still ends with a low rate
            done = min(1.0, max(done, (time.time() - begun) / args.budget_s))
        cosine = 0.5 * (1 + math.cos(math.pi * done)) + 0.003
        for group in optimiser.param_groups:
            group["lr"] = args.rate * min(1, (step + 1) / 200) * cosine
        if time.time() - begun > args.stop_s:
            break
        if step % per_fresh == 0:
            refill()
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
    workers.terminate()
    print(f"{time.time() - begun:.0f} s in all, torch {torch.__version__}, {digest}")


if __name__ == "__main__":
    main()
