"""Train the finder's network on composed scenes: fixed seeds, steps and order.

    python train.py MATERIALS OUT --steps 4000 [--start WEIGHTS.pt or finder.onnx]

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
from materials import load
from network import Finder, loss
from patches import Patch, draw
from read_back import read_back
from rooms import Rooms
from scenes import KINDS, MAX_DECOYS, MAX_SHEETS, Bank, Batch, Composer, mip_levels
from torch import Tensor, nn

SIDE_PX = 512
COUNTS = {
    "sheet": 7000,
    "card": 2500,
    "decoy": 9000,
    "tape": 600,
    "occluder": 1200,
    "surface": 1000,
}
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
        out.append(
            cv2.resize(p[y : y + side, x : x + side], (384, 384), interpolation=cv2.INTER_AREA)
        )
    return torch.from_numpy(np.stack(out).transpose(0, 3, 1, 2).copy())


class Pool:
    """The last scenes composed, each learned from a few times, mirrored and turned."""

    def __init__(self, capacity: int, device: str, decoys: int = MAX_DECOYS) -> None:
        self.pictures = torch.empty(capacity, 3, SIDE_PX, SIDE_PX, dtype=torch.uint8, device=device)
        self.corners = torch.empty(capacity, MAX_SHEETS, 4, 2, device=device)
        self.kinds = torch.empty(capacity, MAX_SHEETS, dtype=torch.long, device=device)
        self.decoys = torch.empty(capacity, decoys, 4, 2, device=device)
        self.made = 0

    def add(self, batch: Batch) -> None:
        """Keep a batch in place of the oldest."""
        n, capacity = len(batch.kinds), len(self.kinds)
        at = (torch.arange(n, device=self.kinds.device) + self.made) % capacity
        self.pictures[at] = (batch.pictures * 255).round().byte()
        self.corners[at], self.kinds[at] = batch.corners, batch.kinds
        self.decoys[at] = batch.decoys
        self.made += n

    def draw(self, n: int, newest: int, g: torch.Generator) -> Batch:
        """Draw a batch: half of it from the newest."""
        capacity, device = len(self.kinds), self.kinds.device
        held = min(self.made, capacity)
        old = torch.randint(0, held, (n // 2,), generator=g, device=device)
        new = torch.randint(0, min(newest, held), (n - n // 2,), generator=g, device=device)
        at = torch.cat([old, (self.made - 1 - new) % capacity])
        x = self.pictures[at].float() / 255
        q, last = torch.cat([self.corners[at], self.decoys[at]], 1), SIDE_PX - 1
        draws = torch.rand(2, generator=g, device=device).tolist()
        if draws[0] < 0.5:
            x = x.flip(-1)
            q = torch.stack([last - q[..., 0], q[..., 1]], -1)[:, :, [0, 3, 2, 1]]
        if draws[1] < 0.2:
            x = torch.rot90(x, 1, (-2, -1))
            q = torch.stack([q[..., 1], last - q[..., 0]], -1)
        gain = (torch.randn(n, 3, 1, 1, generator=g, device=device) * 0.05).exp()
        bright = (torch.randn(n, 1, 1, 1, generator=g, device=device) * 0.12).exp()
        return Batch(
            (x * gain * bright).clamp(0, 1), q[:, :MAX_SHEETS], self.kinds[at], q[:, MAX_SHEETS:]
        )


def export(net: Finder, path: Path) -> str:
    """Write the network as ONNX; returns the file's SHA-256."""
    net = net.eval().float().cpu()
    torch.onnx.export(
        net, (torch.zeros(1, 3, SIDE_PX, SIDE_PX),), str(path), opset_version=13,
        input_names=["picture"], output_names=["maps"], dynamo=False,
    )  # fmt: skip
    return hashlib.sha256(path.read_bytes()).hexdigest()


def learn(rank: int, args: argparse.Namespace) -> None:
    """Train on one of the processors; gradients are averaged over all of them."""
    global _materials
    begun = time.time()
    device = f"cuda:{rank}" if args.gpus else "cpu"
    backgrounds, _materials = load(args.materials)
    drawn = banks(args.share, args.seed, device, args.workers)
    if args.gpus:
        torch.cuda.set_device(rank)
    if args.gpus > 1:
        torch.distributed.init_process_group(
            "nccl", init_method="tcp://127.0.0.1:29511", rank=rank, world_size=args.gpus
        )

    def say(*words: object) -> None:
        if rank == 0:
            print(*words, flush=True)

    say(f"{time.time() - begun:.0f} s: patches drawn")
    g = torch.Generator(device).manual_seed(args.seed * 1000 + rank)
    composer = Composer(drawn, square(backgrounds).to(device), SIDE_PX, g)
    torch.manual_seed(args.seed)
    torch.backends.cudnn.benchmark = True
    net = Finder().to(device).to(memory_format=torch.channels_last)
    if args.start and args.start.suffix == ".onnx":
        with torch.no_grad():
            seen = composer.compose(2 * args.batch).pictures - 0.5
        net.load_state_dict(read_back(args.start, seen).state_dict())
        if rank == 0:
            torch.save(net.state_dict(), args.out / "start.pt")  # to take a mean with
    elif args.start:
        net.load_state_dict(torch.load(args.start, map_location=device))
    rooms = Rooms(args.rooms, args.fold, device) if args.rooms else None
    average = Finder().to(device).eval()
    average.load_state_dict(net.state_dict())
    say(sum(p.numel() for p in net.parameters()), "parameters")
    decayed = [p for p in net.parameters() if p.ndim > 1]
    plain = [p for p in net.parameters() if p.ndim <= 1]
    everything = decayed + plain
    optimiser = torch.optim.AdamW(
        [{"params": decayed, "weight_decay": 0.01}, {"params": plain, "weight_decay": 0.0}],
        lr=args.rate,
    )
    pool = Pool(args.pool, device)
    fresh = args.batch * 4
    traced = round(fresh * args.traced) if rooms else 0

    def refill() -> None:
        with torch.no_grad():
            pool.add(composer.compose(fresh))
            if rooms and traced:
                pool.add(rooms.crops(traced, SIDE_PX, g))

    for _ in range(max(1, args.pool // 16 // fresh)):
        refill()

    def one_step() -> dict[str, Tensor]:
        batch = pool.draw(args.batch, 16 * fresh, g)
        x = (batch.pictures - 0.5).contiguous(memory_format=torch.channels_last)
        with torch.autocast(
            "cuda" if args.gpus else "cpu", dtype=torch.bfloat16, enabled=args.gpus > 0
        ):
            out = net(x)
        total, parts = loss(out, batch)
        optimiser.zero_grad(set_to_none=True)
        total.backward()
        if args.gpus > 1:
            flat = torch.cat([p.grad.flatten() for p in everything])
            torch.distributed.all_reduce(flat)
            flat /= args.gpus
            for p, piece in zip(
                everything, flat.split([p.numel() for p in everything]), strict=True
            ):
                p.grad.copy_(piece.view_as(p))
        nn.utils.clip_grad_norm_(everything, 5.0)
        optimiser.step()
        return parts

    def wait() -> float:
        if args.gpus:
            torch.cuda.synchronize()
        return time.time()

    for group in optimiser.param_groups:
        group["lr"] = 0.0  # measuring the speed must not learn
    if args.budget_s:
        state = {k: v.clone() for k, v in net.state_dict().items()}
        for _ in range(8):
            one_step()
        a = wait()
        for _ in range(2):
            refill()
        b = wait()
        for _ in range(10):
            one_step()
        c = wait()
        each = (c - b) / 10 + (b - a) / 2 / args.reuse / 4
        net.load_state_dict(state)
        left = torch.tensor([args.budget_s - (time.time() - begun), each], device=device)
        if args.gpus > 1:
            torch.distributed.broadcast(left, 0)
        args.steps = int(left[0] / left[1]) // 100 * 100
        say(
            f"{(b - a) / 2:.2f} s to compose {fresh}, {(c - b) / 10:.3f} s a step: --steps {args.steps}"  # noqa: E501
        )
    sums: dict[str, float] = {}
    started = time.time()
    for step in range(args.steps):
        if args.gpus <= 1 and time.time() - begun > args.stop_s:
            break
        done = step / args.steps
        if args.budget_s:  # a machine that has become slower still ends with a low rate
            done = min(1.0, max(done, (time.time() - begun) / args.budget_s))
        rate = args.rate * min(1, (step + 1) / 200) * (0.5 * (1 + math.cos(math.pi * done)) + 0.003)
        for group in optimiser.param_groups:
            group["lr"] = rate
        if step % (4 * args.reuse) == 0:
            refill()
        parts = one_step()
        with torch.no_grad():
            keep = min(0.9985, (1 + step) / (10 + step))
            for mine, new in zip(
                average.state_dict().values(), net.state_dict().values(), strict=True
            ):
                if mine.dtype.is_floating_point:
                    mine.lerp_(new, 1 - keep)
                else:
                    mine.copy_(new)
        if step % 10 == 0:
            for name, value in parts.items():
                sums[name] = sums.get(name, 0.0) + value.item()
        if (step + 1) % 250 == 0:
            spread = " ".join(f"{k} {v / 25:.4f}" for k, v in sums.items())
            say(
                f"{time.time() - started:6.1f} s step {step + 1} scenes {pool.made * max(1, args.gpus)} {spread}"  # noqa: E501
            )
            sums = {}
        if rank == 0 and (step + 1) % 500 == 0:
            torch.save(average.state_dict(), args.out / "weights.pt")
    if rank == 0:
        torch.save(average.state_dict(), args.out / "weights.pt")
        digest = export(average, args.out / "finder.onnx")
        (args.out / "finder.sha256").write_text(digest + "\n")
        say(f"{time.time() - begun:.0f} s in all, torch {torch.__version__}, {digest}")


def main() -> None:
    """Read the arguments and train."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("materials", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("--steps", type=int, default=4000)
    parser.add_argument("--batch", type=int, default=64, help="scenes a step on each processor")
    parser.add_argument("--reuse", type=int, default=3, help="times a scene is learned from")
    parser.add_argument("--pool", type=int, default=20000)
    parser.add_argument("--rate", type=float, default=2e-3)
    parser.add_argument("--share", type=float, default=1.0, help="of the patches to draw")
    parser.add_argument("--seed", type=int, default=11)
    parser.add_argument("--workers", type=int, default=16)
    parser.add_argument("--gpus", type=int, default=torch.cuda.device_count())
    parser.add_argument("--start", type=Path, help="weights to go on from")
    parser.add_argument("--rooms", type=Path, help="path-traced rooms with index.json")
    parser.add_argument("--fold", type=int, default=-1, help="fold of two left out of the rooms")
    parser.add_argument("--traced", type=float, default=0.12, help="views of rooms, for each scene")
    parser.add_argument("--stop-s", type=float, default=1e9, help="stop after so long regardless")
    parser.add_argument("--budget-s", type=float, help="measure the speed and choose the steps")
    args = parser.parse_args()
    args.out.mkdir(parents=True, exist_ok=True)
    if args.gpus > 1:
        torch.multiprocessing.spawn(learn, (args,), nprocs=args.gpus)  # type: ignore[no-untyped-call]
    else:
        learn(0, args)


if __name__ == "__main__":
    main()
