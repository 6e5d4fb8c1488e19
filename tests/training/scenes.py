"""Compose photographs out of drawn patches, many at a time: one camera, a wall or a table, light.

Everything is a tensor operation, so a batch is composed on the processor that trains. The same
generator state gives the same batch.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import torch
import torch.nn.functional as F
from torch import Tensor

CELL = 4  # labels are kept for cells of 4 x 4 px
MAX_SHEETS = 4
MAX_DECOYS = 5
KINDS = ("sheet", "card", "decoy", "tape", "occluder", "surface")


@dataclass(frozen=True)
class Bank:
    """Patches of one kind: textures at halving sizes (N, 4, s, s) uint8, and what goes with each."""  # noqa: E501

    levels: list[Tensor]
    ratio: Tensor
    radius: Tensor
    thickness: Tensor


@dataclass(frozen=True)
class Batch:
    """Pictures (N, 3, S, S) in 0 to 1 and their labels."""

    pictures: Tensor
    corners: Tensor  # (N, MAX_SHEETS, 4, 2) px, clockwise
    kinds: Tensor  # (N, MAX_SHEETS): 0 none, 1 sheet, 2 card
    decoys: Tensor  # (N, MAX_DECOYS, 4, 2) px, clockwise; all zero where there is none


def mip_levels(textures: Tensor, count: int = 4) -> list[Tensor]:
    """Halve textures again and again, colours weighted by coverage."""
    levels = [textures]
    for _ in range(count - 1):
        above = levels[-1]
        parts = []
        for piece in above.split(512):
            x = piece.float()
            cover = x[:, 3:] + 1e-3
            colour = F.avg_pool2d(x[:, :3] * cover, 2) / F.avg_pool2d(cover, 2)
            parts.append(torch.cat([colour, F.avg_pool2d(x[:, 3:], 2)], 1).round().byte())
        levels.append(torch.cat(parts))
    return levels


def inverse_of(h: Tensor) -> Tensor:
    """Invert 3 x 3 matrices up to scale and sign of their determinants, by cofactors."""
    a, b, c = h[..., 0, :], h[..., 1, :], h[..., 2, :]
    rows = torch.stack(
        [torch.linalg.cross(b, c), torch.linalg.cross(c, a), torch.linalg.cross(a, b)], -1
    )
    return rows / (a * torch.linalg.cross(b, c)).sum(-1)[..., None, None]


def joined(one: Bank, other: Bank) -> Bank:
    """Put one bank behind another."""
    return Bank(
        [torch.cat(pair) for pair in zip(one.levels, other.levels, strict=True)],
        torch.cat([one.ratio, other.ratio]),
        torch.cat([one.radius, other.radius]),
        torch.cat([one.thickness, other.thickness]),
    )


class Composer:
    """Draws batches of scenes from banks of patches and backgrounds."""

    def __init__(
        self, banks: dict[str, Bank], backgrounds: Tensor, side: int, generator: torch.Generator
    ) -> None:
        self.banks, self.backgrounds, self.side, self.g = banks, backgrounds, side, generator
        self.paper = joined(banks["sheet"], banks["card"])
        self.first_card = len(banks["sheet"].ratio)
        self.device = backgrounds.device
        rows, cols = torch.meshgrid(
            torch.arange(side, device=self.device, dtype=torch.float32),
            torch.arange(side, device=self.device, dtype=torch.float32),
            indexing="ij",
        )
        self.x, self.y = cols, rows

    # ------------------------------------------------------------------------------ random draws

    def u(self, n: int, low: float = 0.0, high: float = 1.0) -> Tensor:
        """Draw uniform numbers."""
        return low + (high - low) * torch.rand(n, generator=self.g, device=self.device)

    def normal(self, *shape: int) -> Tensor:
        """Draw normal numbers."""
        return torch.randn(*shape, generator=self.g, device=self.device)

    def chance(self, n: int, p: float) -> Tensor:
        """Draw true with a probability."""
        return self.u(n) < p

    def pick(self, n: int, count: int) -> Tensor:
        """Draw indices."""
        return torch.randint(0, count, (n,), generator=self.g, device=self.device)

    def field(self, n: int, cells: int, channels: int = 1) -> Tensor:
        """Draw smooth random fields (n, channels, S, S) of about unit size."""
        small = self.normal(n, channels, cells, cells)
        return F.interpolate(small, size=(self.side, self.side), mode="bicubic", align_corners=True)

    # ---------------------------------------------------------------------------------- geometry

    def planes(self, n: int) -> Tensor:
        """Draw planes before cameras: homographies (n, 3, 3) from plane units to picture px.

        A unit of the plane at the middle of the picture covers the picture's side.
        """
        looking_down = self.chance(n, 0.34)
        yaw = torch.where(looking_down, self.normal(n) * 0.12, self.normal(n) * 0.38).clamp(
            -1.1, 1.1
        )
        pitch = torch.where(looking_down, self.u(n, 0.0, 1.15), self.normal(n) * 0.17).clamp(
            -1.2, 1.2
        )
        roll = torch.where(
            self.chance(n, 0.92), self.normal(n) * 0.05, self.u(n, -math.pi, math.pi)
        )
        focal = self.u(n, 0.65, 1.35) * self.side
        zero, one = torch.zeros_like(yaw), torch.ones_like(yaw)

        def stack(rows: list[list[Tensor]]) -> Tensor:
            return torch.stack([torch.stack(r, -1) for r in rows], -2)

        cy, sy, cp, sp = yaw.cos(), yaw.sin(), pitch.cos(), pitch.sin()
        cr, sr = roll.cos(), roll.sin()
        turn = stack([[cy, zero, sy], [zero, one, zero], [-sy, zero, cy]])
        nod = stack([[one, zero, zero], [zero, cp, sp], [zero, -sp, cp]])
        lean = stack([[cr, -sr, zero], [sr, cr, zero], [zero, zero, one]])
        rotation = lean @ nod @ turn
        distance = focal / self.side
        columns = torch.stack(
            [rotation[..., 0], rotation[..., 1], torch.stack([zero, zero, distance], -1)], -1
        )
        mid = (self.side - 1) / 2
        camera = stack([[focal, zero, one * mid], [zero, focal, one * mid], [zero, zero, one]])
        return camera @ columns

    @staticmethod
    def project(h: Tensor, points: Tensor) -> Tensor:
        """Map points (n, k, 2) by homographies (n, 3, 3)."""
        q = torch.cat([points, torch.ones_like(points[..., :1])], -1) @ h.transpose(-1, -2)
        return q[..., :2] / q[..., 2:]

    def on_plane(
        self, planes: Tensor, at_px: Tensor, long_px: Tensor, ratio: Tensor, turn: Tensor
    ) -> Tensor:
        """Place a rectangle on a plane: homographies from its unit square to px.

        Its middle comes to a point of the picture, its long (upright) side to about a length there.
        """
        inverse = inverse_of(planes)
        middle = self.project(inverse, at_px[:, None])[:, 0]
        step = 0.01
        around = middle[:, None] + step * torch.tensor([[1.0, 0], [0, 1.0]], device=self.device)
        spread = (self.project(planes, around) - at_px[:, None]).norm(dim=-1).amax(-1) / step
        tall = long_px / spread.clamp(min=1e-3)
        wide = tall / ratio
        c, s, zero, one = turn.cos(), turn.sin(), torch.zeros_like(turn), torch.ones_like(turn)
        rows = [
            [c * wide, -s * tall, middle[:, 0] - (c * wide - s * tall) / 2],
            [s * wide, c * tall, middle[:, 1] - (s * wide + c * tall) / 2],
            [zero, zero, one],
        ]
        return planes @ torch.stack([torch.stack(r, -1) for r in rows], -2)

    def unit_corners(self, h: Tensor) -> Tensor:
        """Project the corners of the unit square, clockwise."""
        square = torch.tensor([[0.0, 0], [1, 0], [1, 1], [0, 1]], device=self.device)
        return self.project(h, square.expand(len(h), 4, 2))

    # ---------------------------------------------------------------------------------- painting

    def sampled(self, bank: Bank, number: Tensor, grid: Tensor, scale: Tensor) -> Tensor:
        """Look textures up at grids in -1 to 1, each at the level that suits its scale (texel/px)."""  # noqa: E501
        level = scale.clamp(min=1).log2().floor().long().clamp(0, len(bank.levels) - 1)
        out = torch.zeros(len(number), 4, self.side, self.side, device=self.device)
        for k, textures in enumerate(bank.levels):
            which = (level == k).nonzero()[:, 0]
            if len(which):
                out[which] = F.grid_sample(
                    textures[number[which]].float() / 255, grid[which], mode="bilinear",
                    padding_mode="border", align_corners=False,
                )  # fmt: skip
        return out

    def paint(
        self, picture: Tensor, which: Tensor, bank: Bank, number: Tensor, h: Tensor,
        bend: bool, light: Tensor, shadow: Tensor, gloss: float,
    ) -> None:  # fmt: skip
        """Paint patches into the pictures of the batch named by ``which``, in place."""
        if not len(which):
            return
        n = len(which)
        inverse = inverse_of(h)
        d = (
            inverse[:, 2, 0, None, None] * self.x
            + inverse[:, 2, 1, None, None] * self.y
            + inverse[:, 2, 2, None, None]
        )
        sign = torch.where(d.abs() < 1e-6, torch.full_like(d, 1e-6), d)
        u = (
            inverse[:, 0, 0, None, None] * self.x
            + inverse[:, 0, 1, None, None] * self.y
            + inverse[:, 0, 2, None, None]
        ) / sign
        v = (
            inverse[:, 1, 0, None, None] * self.x
            + inverse[:, 1, 1, None, None] * self.y
            + inverse[:, 1, 2, None, None]
        ) / sign
        # in front of the camera: the sign of d at the patch's own middle
        middle = self.project(h, torch.full((n, 1, 2), 0.5, device=self.device))[:, 0]
        at = inverse[:, 2, 0] * middle[:, 0] + inverse[:, 2, 1] * middle[:, 1] + inverse[:, 2, 2]
        front = (d * at.sign()[:, None, None]) > 0
        corners = self.unit_corners(h)
        wide = (
            (corners[:, 1] - corners[:, 0]).norm(dim=-1)
            + (corners[:, 2] - corners[:, 3]).norm(dim=-1)
        ) / 2
        tall = (
            (corners[:, 3] - corners[:, 0]).norm(dim=-1)
            + (corners[:, 2] - corners[:, 1]).norm(dim=-1)
        ) / 2
        wide, tall = wide.clamp(min=1)[:, None, None], tall.clamp(min=1)[:, None, None]
        shade = torch.ones_like(u)
        if bend:  # bowed sides, a curled corner
            paper = (bank.radius[number] == 0)[:, None, None]
            bowed = self.chance(n, 0.4).float()[:, None, None] * paper
            a, b = self.normal(2, n)[..., None, None] * 0.010 * bowed
            un, vn = u.clamp(0, 1), v.clamp(0, 1)
            u, v = u + b * (math.pi * vn).sin(), v + a * (math.pi * un).sin()
            tone = self.normal(2, n)[..., None, None] * 0.06 * bowed
            shade = shade + tone[0] * (math.pi * un).sin() + tone[1] * (math.pi * vn).cos()
            curled = self.chance(n, 0.22).float()[:, None, None] * paper
            cu, cv = (
                self.chance(n, 0.5).float()[:, None, None],
                self.chance(n, 0.5).float()[:, None, None],
            )
            reach = self.u(n, 0.1, 0.5)[:, None, None]
            lift = (1 - ((u - cu).abs() + (v - cv).abs()) / reach).clamp(0, 1) * curled
            shade = shade * (1 + lift * self.u(n, -0.35, 0.2)[:, None, None])
            push = lift**2 * self.normal(n)[:, None, None] * 0.02
            u, v = u + push, v + push
        radius = bank.radius[number][:, None, None] * torch.minimum(wide, tall)
        dx = torch.minimum(u, 1 - u) * wide
        dy = torch.minimum(v, 1 - v) * tall
        flat = torch.minimum(dx, dy)
        ax, ay = (radius - dx).clamp(min=0), (radius - dy).clamp(min=0)
        rounded = torch.where((ax > 0) & (ay > 0), radius - (ax**2 + ay**2).sqrt(), flat)
        alpha = (rounded + 0.5).clamp(0, 1) * front
        grid = torch.stack([u * 2 - 1, v * 2 - 1], -1).clamp(-4, 4)
        size = bank.levels[0].shape[-1]
        texture = self.sampled(bank, number, grid, size / torch.maximum(wide, tall)[:, 0, 0])
        alpha = (alpha * texture[:, 3])[:, None]
        base = picture[which]
        # the shadow it casts: its own coverage shifted and blurred
        strength, shift, soft = shadow
        moved = self.shifted(
            alpha,
            shift[:, None] * self.normal(n, 2) * 0.7 + shift[:, None] * self.common_light[which],
        )
        base = base * (1 - strength[:, None, None, None] * self.blurred(moved, soft))
        side = bank.thickness[number] * torch.maximum(wide, tall)[:, 0, 0]
        face = self.shifted(alpha, side[:, None] * self.common_side[which])
        tone = self.u(n, 0.25, 1.05)[:, None, None, None]
        base = base * (1 - face) + texture[:, :3] * light[:, None] * tone * face
        lit = texture[:, :3] * (light * shade)[:, None]
        if gloss > 0:
            shiny = self.chance(n, gloss).float()[:, None, None]
            c = self.u(n)[:, None, None], self.u(n)[:, None, None]
            spot = (
                -((u - c[0]) ** 2 + (v - c[1]) ** 2) / self.u(n, 0.01, 0.15)[:, None, None]
            ).exp()
            lit = lit + (shiny * self.u(n, 0.1, 0.8)[:, None, None] * spot)[:, None]
        edge = (1 - (rounded - 0.7).abs() / 0.9).clamp(0, 1) * front
        rim = self.normal(n)[:, None, None] * 0.09 * self.chance(n, 0.35).float()[:, None, None]
        lit = lit + (edge * rim)[:, None]
        picture[which] = base * (1 - alpha) + lit * alpha

    def shifted(self, cover: Tensor, by_px: Tensor) -> Tensor:
        """Shift coverages by vectors in px."""
        theta = torch.zeros(len(cover), 2, 3, device=self.device)
        theta[:, 0, 0] = theta[:, 1, 1] = 1
        theta[:, :, 2] = -2 * by_px / self.side
        grid = F.affine_grid(theta, list(cover.shape), align_corners=False)
        return F.grid_sample(cover, grid, padding_mode="zeros", align_corners=False)

    def blurred(self, x: Tensor, sigma: Tensor) -> Tensor:
        """Blur each picture by its own sigma in px, up to about 12."""
        n, c = x.shape[:2]
        reach = int(min(24, math.ceil(2.5 * float(sigma.max().clamp(min=0.3)))))
        t = torch.arange(-reach, reach + 1, device=self.device, dtype=torch.float32)
        kernel = (-(t[None] ** 2) / (2 * sigma.clamp(min=0.05)[:, None] ** 2)).exp()
        kernel = (kernel / kernel.sum(1, keepdim=True)).repeat_interleave(c, 0)
        flat = x.reshape(1, n * c, *x.shape[2:])
        flat = F.pad(flat, (reach,) * 4, mode="replicate")
        flat = F.conv2d(flat, kernel[:, None, None], groups=n * c)
        return F.conv2d(flat, kernel[:, None, :, None], groups=n * c).reshape(x.shape)

    def softened(self, x: Tensor, sigma: float) -> Tensor:
        """Blur by some px, at a quarter of the resolution."""
        small = F.avg_pool2d(x, 4)
        small = self.blurred(small, torch.full((len(x),), sigma / 4, device=self.device))
        return F.interpolate(small, size=x.shape[2:], mode="bilinear", align_corners=False)

    # ------------------------------------------------------------------------------------ scenes

    def backdrop(self, n: int, planes: Tensor) -> Tensor:
        """Draw what is behind: a photograph, or walls and floors in the scene's perspective."""
        angle = self.normal(n) * 0.05
        zoom = self.u(n, 0.35, 1.0)
        flip = torch.where(self.chance(n, 0.5), -1.0, 1.0)
        theta = torch.zeros(n, 2, 3, device=self.device)
        theta[:, 0, 0], theta[:, 0, 1] = angle.cos() * zoom * flip, -angle.sin() * zoom
        theta[:, 1, 0], theta[:, 1, 1] = angle.sin() * zoom * flip, angle.cos() * zoom
        theta[:, :, 2] = (1 - zoom)[:, None] * (
            2 * torch.rand(n, 2, generator=self.g, device=self.device) - 1
        )
        grid = F.affine_grid(theta, [n, 3, self.side, self.side], align_corners=False)
        numbers = self.pick(n, len(self.backgrounds))
        out = F.grid_sample(
            self.backgrounds[numbers].float() / 255,
            grid,
            padding_mode="reflection",
            align_corners=False,
        )
        drawn = self.chance(n, 0.45).nonzero()[:, 0]
        surfaces = self.banks["surface"]
        for layer in range(2):  # a wall, then perhaps a floor or another wall
            which = drawn if layer == 0 else drawn[self.chance(len(drawn), 0.4)]
            if not len(which):
                continue
            k = len(which)
            inverse = inverse_of(planes[which])
            pixels = torch.stack([self.x, self.y], -1).reshape(1, -1, 2).expand(k, -1, 2)
            uv = self.project(inverse, pixels).reshape(k, self.side, self.side, 2)
            uv = uv * self.u(k, 0.7, 2.6)[:, None, None, None] + self.normal(k, 2)[:, None, None]
            uv = (uv + 1).remainder(4) - 1
            uv = torch.where(uv > 1, 2 - uv, uv)  # mirrored repeats
            number = self.pick(k, len(surfaces.ratio))
            painted = self.sampled(surfaces, number, uv, torch.ones(k, device=self.device) * 1.4)[
                :, :3
            ]
            if layer == 0:
                out[which] = painted
            else:
                turn, place = self.u(k, 0, 2 * math.pi), self.u(k, 0.05, 0.45) * self.side
                mid = (self.side - 1) / 2
                side = turn.cos()[:, None, None] * (self.x - mid) + turn.sin()[:, None, None] * (
                    self.y - mid
                )
                mask = (side > place[:, None, None])[:, None]
                out[which] = torch.where(
                    mask, painted * self.u(k, 0.5, 1.1)[:, None, None, None], out[which]
                )
        return out

    def close_prints(self, picture: Tensor, planes: Tensor) -> None:
        """Cover some backgrounds with a print seen so near that it runs out of the picture.

        Its fields lie between dark squares, checks or lines, and are no sheets: the whole of it is
        seen from farther off, or is not to be found.
        """
        which = self.chance(len(picture), 0.07).nonzero()[:, 0]
        k = len(which)
        if not k:
            return
        at = self.u(2 * k, 0.3, 0.7).reshape(k, 2) * self.side
        size = self.u(k, 1.1, 2.6) * self.side
        h = self.on_plane(planes[which], at, size, self.u(k, 1.0, 1.5), self.normal(k) * 0.15)
        pixels = torch.stack([self.x, self.y], -1).reshape(1, -1, 2).expand(k, -1, 2)
        uv = self.project(inverse_of(h), pixels).reshape(k, self.side, self.side, 2)
        cells = torch.stack([self.pick(k, 8) + 2, self.pick(k, 10) + 2], -1)[:, None, None]
        within = uv * (1 + self.u(k, 0.02, 0.3))[:, None, None, None]
        place = (within * cells).nan_to_num().clamp(-1e3, 1e3)
        per_px = (place[:, :, 1:] - place[:, :, :-1]).abs().flatten(1).median(1)[0].clamp(min=1e-4)
        off = (place.remainder(1) - 0.5).abs()  # of a cell from its middle
        half = self.u(k, 0.12, 0.38)[:, None, None, None]
        squares = ((half - off) / per_px[:, None, None, None] + 0.5).clamp(0, 1).prod(-1)
        parity = place.floor().sum(-1).remainder(2)
        ruled = ((0.06 - off) / per_px[:, None, None, None] + 0.5).clamp(0, 1).amax(-1)
        draw = self.u(k)[:, None, None]
        ink = torch.where(draw < 0.55, squares, torch.where(draw < 0.8, parity, ruled))
        inside = ((uv > 0) & (uv < 1)).all(-1)
        ink = ink * ((within > 0) & (within < 1)).all(-1)
        paper = self.u(k, 0.78, 1.0)[:, None, None] - ink * self.u(k, 0.5, 0.75)[:, None, None]
        picture[which] = torch.where(inside[:, None], paper[:, None], picture[which])

    def compose(self, n: int) -> Batch:
        """Compose a batch of scenes."""
        s = self.side
        self.margins(n)
        planes = self.planes(n)
        picture = self.backdrop(n, planes)
        self.close_prints(picture, planes)
        # light falls unevenly, as from lamps and windows; paper is lit like its surroundings
        uneven = self.field(n, 3)[:, 0] * self.u(n, 0.0, 0.2)[:, None, None]
        light = (uneven.exp() * self.u(n, 0.62, 1.1)[:, None, None]).clamp(0.1, 1.5)
        sunk = self.chance(n, 0.3).float() * self.u(n, 0.0, 0.55)
        picture = picture * (1 - sunk)[:, None, None, None]
        direction = self.u(n, 0, 2 * math.pi)
        self.common_light = torch.stack([direction.cos(), direction.sin().abs()], -1)
        self.common_side = F.normalize(self.normal(n, 2), dim=-1)
        everyone = torch.arange(n, device=self.device)
        boxes: list[tuple[Tensor, Tensor, Tensor]] = []  # low, high, present

        def spots(
            present: Tensor, long_px: Tensor, ratio: Tensor, inside: Tensor
        ) -> tuple[Tensor, Tensor, Tensor]:
            """Find places that overlap nothing placed before: homographies, corners, whether found."""  # noqa: E501
            tries = 5
            own = self.planes(n)
            plane = torch.where(self.chance(n, 0.2)[:, None, None], own, planes)
            quarter = math.pi / 2 * self.pick(n, 2) + math.pi * self.chance(n, 0.07)
            turn = quarter + torch.where(
                self.chance(n, 0.68), self.normal(n) * 0.05, self.u(n, -math.pi, math.pi)
            )
            room = (s - 2 * self.margin).repeat(tries, 1)
            at = (
                self.margin.repeat(tries, 1)
                + self.u(tries * n * 2, 0.04, 0.96).reshape(-1, 2) * room
            )
            shrink = 0.85 ** torch.arange(tries, device=self.device).repeat_interleave(n)
            h = self.on_plane(
                plane.repeat(tries, 1, 1), at, long_px.repeat(tries) * shrink,
                ratio.repeat(tries), turn.repeat(tries),
            )  # fmt: skip
            q = self.unit_corners(h)
            low, high = q.amin(1).reshape(tries, n, 2), q.amax(1).reshape(tries, n, 2)
            out = inside[:, None] * s
            ok = ((low > self.margin - out) & (high < s - 1 - self.margin + out)).all(-1)
            a, b = q - q.roll(1, 1), q.roll(-1, 1) - q
            cross = a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0]
            sound = (
                (cross > 0).all(-1) & q.isfinite().all(-1).all(-1) & (a.norm(dim=-1).amin(-1) > 4.5)
            )
            ok &= sound.reshape(tries, n)
            if boxes:
                l2 = torch.stack([b[0] for b in boxes])[:, None]
                h2 = torch.stack([b[1] for b in boxes])[:, None]
                p2 = torch.stack([b[2] for b in boxes])[:, None]
                meets = (low[None] < h2 + 3).all(-1) & (high[None] > l2 - 3).all(-1) & p2
                ok &= ~meets.any(0)
            first = ok.float().argmax(0)
            present = present & ok.any(0)
            row = first * n + everyone
            boxes.append((q[row].amin(1), q[row].amax(1), present))
            return h[row], q[row], present

        def shadows(k: int, size: Tensor, most: float) -> Tensor:
            strength = self.u(k, 0, most) * self.chance(k, 0.8)
            shift = self.u(k, 0.1, 0.03) * size * self.u(k) + 0.3
            return torch.stack([strength, shift, (shift * self.u(k, 0.2, 1.2) + 0.4).clamp(max=5)])

        # draw the order: sheets are placed first (they need room) but decoys are painted before
        plan = []
        corners = torch.zeros(n, MAX_SHEETS, 4, 2, device=self.device)
        kinds = torch.zeros(n, MAX_SHEETS, dtype=torch.long, device=self.device)
        count_draw = self.u(n)
        beyond = torch.where(self.chance(n, 0.07), 0.06, -0.004)  # a corner out of view
        far = torch.full((n,), 0.45, device=self.device)
        as_cards = self.chance(n, 0.27)
        for k in range(MAX_SHEETS):
            present = count_draw < (0.80, 0.22, 0.12, 0.07)[k]
            small = self.u(n) < (0.5 if k == 0 else 0.8)
            log = (self.u(n, math.log(0.028), math.log(0.22))).exp()
            long_px = torch.where(small, log, self.u(n, 0.15, 0.9)) * s
            is_card = as_cards if k == 0 else as_cards & self.chance(n, 0.5)
            long_px = torch.where(is_card, long_px * 0.8, long_px)
            number = torch.where(
                is_card, self.first_card + self.pick(n, len(self.paper.ratio) - self.first_card),
                self.pick(n, self.first_card),
            )  # fmt: skip
            h, q, here = spots(present, long_px, self.paper.ratio[number], beyond)
            corners[:, k] = torch.where(here[:, None, None], q, corners[:, k])
            kinds[:, k] = torch.where(here, 1 + is_card.long(), 0)
            plan.append((number, h, q, here))
        decoys = torch.zeros(n, MAX_DECOYS, 4, 2, device=self.device)
        for k in range(MAX_DECOYS):
            present = self.u(n) < (0.72, 0.58, 0.42, 0.28, 0.16)[k]
            long_px = (self.u(n, math.log(0.03), math.log(0.95))).exp() * s
            number = self.pick(n, len(self.banks["decoy"].ratio))
            h, q, here = spots(present, long_px, self.banks["decoy"].ratio[number], far)
            decoys[:, k] = torch.where(here[:, None, None], q, decoys[:, k])
            which = here.nonzero()[:, 0]
            size = (q.amax(1) - q.amin(1)).amax(-1)[which]
            self.paint(
                picture, which, self.banks["decoy"], number[which], h[which], False,
                light[which] * self.u(len(which), 0.75, 1.15)[:, None, None], shadows(len(which), size, 0.6), 0.12,  # noqa: E501
            )  # fmt: skip
        # now and then the surroundings take the colour of the paper to come
        for number, _, q, here in plan:
            which = (here & self.chance(n, 0.2)).nonzero()[:, 0]
            if len(which):
                paper = self.paper.levels[-1][number[which], :3].float().mean((2, 3)) / 255
                tone = (self.normal(len(which), 3) * 0.05).exp() * self.u(len(which), 0.84, 1.03)[
                    :, None
                ]
                middle = q[which].mean(1)
                reach = (q[which].amax(1) - q[which].amin(1)).amax(-1)[:, None, None] * 1.1
                near = (
                    (self.x - middle[:, 0, None, None]) ** 2
                    + (self.y - middle[:, 1, None, None]) ** 2
                ).sqrt()
                weight = (
                    (1.5 - near / reach).clamp(0, 1) * self.u(len(which), 0.6, 1)[:, None, None]
                )[:, None]
                wall = (paper * tone)[..., None, None] * light[which][:, None]
                detail = picture[which] - self.softened(picture[which], 6.0)
                picture[which] = picture[which] * (1 - weight) + (wall + 0.4 * detail) * weight
        for number, h, q, here in plan:
            which = here.nonzero()[:, 0]
            if not len(which):
                continue
            k = len(which)
            size = (q.amax(1) - q.amin(1)).amax(-1)[which]
            tone = light[which] * self.u(k, 0.92, 1.1)[:, None, None]
            self.paint(
                picture, which, self.paper, number[which], h[which], True, tone,
                shadows(k, size, 0.55), 0.1,
            )  # fmt: skip
            self.cover(picture, which, q[which], size, light)
        self.cast(picture, everyone)
        return Batch(self.camera(picture), corners, kinds, decoys)

    def photographed(self, numbers: Tensor) -> Batch:
        """Photograph backgrounds anew, with no sheet in them."""
        n, s = len(numbers), self.side
        self.margins(n)
        picture = self.backgrounds[numbers].float() / 255
        picture = F.interpolate(picture, size=(s, s), mode="bilinear", align_corners=False)
        return Batch(
            self.camera(picture),
            torch.zeros(n, MAX_SHEETS, 4, 2, device=self.device),
            torch.zeros(n, MAX_SHEETS, dtype=torch.long, device=self.device),
            torch.zeros(n, MAX_DECOYS, 4, 2, device=self.device),
        )

    def cover(self, picture: Tensor, which: Tensor, q: Tensor, size: Tensor, light: Tensor) -> None:
        """Put tape, pins, hands, feet and things over sheets."""
        k = len(which)
        taped = self.chance(k, 0.45)
        strips = self.banks["tape"]
        everywhere = self.chance(k, 0.6)
        for side in range(4):
            on = (taped & (everywhere | self.chance(k, 0.4))).nonzero()[:, 0]
            if not len(on):
                continue
            m = len(on)
            number = self.pick(m, len(strips.ratio))
            corner, middle = q[on, side], q[on].mean(1)
            between = (q[on, side] + q[on, (side + 1) % 4]) / 2
            at = torch.where(self.chance(m, 0.75)[:, None], corner * 0.97 + middle * 0.03, between)
            away = at - middle
            turn = (
                torch.atan2(away[:, 1], away[:, 0])
                + math.pi / 4 * self.pick(m, 4)
                + self.normal(m) * 0.2
            )
            h = self.on_plane(
                self.plain(m), at, size[on] * self.u(m, 0.06, 0.28), strips.ratio[number], turn
            )
            none = torch.zeros(3, m, device=self.device)
            none[2] = 0.4
            self.paint(picture, which[on], strips, number, h, False, light[which[on]], none, 0.05)
        over = self.banks["occluder"]
        held, first = self.chance(k, 0.24), self.pick(k, 4)
        for turned in (0, 2):  # now and then by two hands, on opposite sides
            on = (held if turned == 0 else held & self.chance(k, 0.35)).nonzero()[:, 0]
            if not len(on):
                continue
            m = len(on)
            number = self.pick(m, len(over.ratio))
            side, t = (first[on] + turned) % 4, self.u(m, 0.12, 0.88)[:, None]
            row = torch.arange(m, device=self.device)
            edge = q[on][row, side] * t + q[on][row, (side + 1) % 4] * (1 - t)
            outward = F.normalize(edge - q[on].mean(1), dim=-1)
            long_px = size[on] * self.u(m, 0.2, 1.2)
            at = edge + outward * (long_px * self.u(m, 0.0, 0.42))[:, None]
            turn = torch.atan2(outward[:, 1], outward[:, 0]) - math.pi / 2 + self.normal(m) * 0.25
            h = self.on_plane(self.plain(m), at, long_px, over.ratio[number], turn)
            soft = torch.stack(
                [self.u(m, 0, 0.5), size[on] * 0.03, (size[on] * 0.02 + 0.4).clamp(max=5)]
            )
            self.paint(picture, which[on], over, number, h, False, light[which[on]], soft, 0.0)

    def plain(self, n: int) -> Tensor:
        """Give planes square to the camera, for what needs no perspective."""
        h = torch.eye(3, device=self.device).repeat(n, 1, 1)
        h[:, 0, 0] = h[:, 1, 1] = self.side
        return h

    def cast(self, picture: Tensor, everyone: Tensor) -> None:
        """Cast shadows and pools of light over everything: straight edges, bars, blobs."""
        n = len(everyone)
        turn = self.u(n, 0, 2 * math.pi)[:, None, None]
        mid = self.side / 2
        across = (turn.cos() * (self.x - mid) + turn.sin() * (self.y - mid)) / self.side
        across = across + 0.05 * self.field(n, 4)[:, 0] * self.chance(n, 0.4)[:, None, None]
        soft = self.u(n, 0.004, 0.12)[:, None, None]
        edge = torch.sigmoid((across - self.u(n, -0.4, 0.4)[:, None, None]) / soft)
        bar = edge * torch.sigmoid((self.u(n, 0.05, 0.4)[:, None, None] - across) / soft)
        blob = torch.sigmoid(self.field(n, 4)[:, 0] / self.u(n, 0.05, 0.6)[:, None, None])
        draw = self.u(n)[:, None, None]
        mask = torch.where(
            draw < 0.12,
            edge,
            torch.where(draw < 0.2, bar, torch.where(draw < 0.34, blob, edge * 0)),
        )
        deep = self.u(n, 0.15, 0.65)[:, None, None]
        picture *= (1 - deep * mask)[:, None]

    # ------------------------------------------------------------------------------------ camera

    def camera(self, x: Tensor) -> Tensor:
        """Photograph a scene: white balance, exposure, blur, tone, noise, compression, copies."""
        n, s = len(x), self.side
        warm = self.normal(n) * 0.12
        tint = torch.stack(
            [-warm - 0.1 * self.chance(n, 0.15), self.normal(n) * 0.03, warm], -1
        )  # B, G, R
        lamp = (self.chance(n, 0.15).float() * self.u(n, 0.1, 0.4))[:, None]
        tint = tint + lamp * torch.tensor([-1.2, -0.1, 0.5], device=self.device)
        x = x * tint.exp()[..., None, None]
        r2 = ((self.x / s - 0.5) ** 2 + (self.y / s - 0.5) ** 2) * 2
        x = x * (1 - self.u(n, 0, 0.3)[:, None, None, None] * r2)
        night = self.chance(n, 0.1).float() * self.u(n, 0.2, 1.3)
        x = x * (self.normal(n) * 0.2 - night).exp()[:, None, None, None]
        x = x.clamp(min=0)
        hdr = (self.chance(n, 0.13).float() * self.u(n, 0.2, 0.7))[:, None, None, None]
        local = self.softened(x.mean(1, keepdim=True), 9.0).clamp(min=0.02)
        x = x * (local / 0.5).pow(-hdr * 0.8)
        x = x + hdr * 0.8 * (x - self.softened(x, 5.0))
        lost = torch.where(self.chance(n, 0.55), self.u(n, 0.0, 0.55), self.u(n, 0.4, 1.5))
        x = self.blurred(x, lost)
        grain = (self.chance(n, 0.5).float() * self.u(n, 0, 0.035) + night * 0.03)[
            :, None, None, None
        ]
        fine = self.normal(n, 3, s, s)
        coarse = F.interpolate(self.normal(n, 3, s // 2, s // 2), size=(s, s), mode="bilinear")
        x = (
            x
            + grain
            * torch.where(self.chance(n, 0.5)[:, None, None, None], fine, 1.6 * coarse)
            * x.clamp(0.05, 1).sqrt()
        )
        x = x.clamp(0, 1).pow((self.normal(n) * 0.18).exp()[:, None, None, None])
        contrast = (self.normal(n) * 0.15)[:, None, None, None]
        x = (x + contrast * (x - 0.5) * 4 * x * (1 - x)).clamp(0, 1)
        saturation = (self.normal(n) * 0.2).exp()[:, None, None, None]
        mean = x.mean(1, keepdim=True)
        x = (mean + (x - mean) * saturation).clamp(0, 1)
        sharp = (self.chance(n, 0.4).float() * self.u(n, 0, 1.3))[:, None, None, None]
        x = (x + sharp * (x - self.blurred(x, self.u(n, 0.6, 1.4)))).clamp(0, 1)
        x = self.compressed(x)
        return self.bordered(x)

    def compressed(self, x: Tensor) -> Tensor:
        """Compress as JPEG does (ITU-T T.81 annex K tables), at qualities from 25 to 97."""
        n, s = len(x), self.side
        quality = torch.where(self.chance(n, 0.6), self.u(n, 70, 97), self.u(n, 25, 70))
        scale = torch.where(quality < 50, 5000 / quality, 200 - 2 * quality) / 100
        k = torch.arange(8, device=self.device, dtype=torch.float32)
        basis = ((2 * k[None] + 1) * k[:, None] * math.pi / 16).cos() * 0.5
        basis[0] = math.sqrt(1 / 8)
        both = torch.kron(basis, basis)  # one product does rows and columns of a tile
        b, g, r = x[:, 0], x[:, 1], x[:, 2]
        luma = 0.114 * b + 0.587 * g + 0.299 * r
        chroma = torch.stack([(b - luma) * 0.564, (r - luma) * 0.713], 1)

        def squeeze(plane: Tensor, table: Tensor) -> Tensor:
            m, c, h, w = plane.shape
            tiles = plane.reshape(m, c, h // 8, 8, w // 8, 8).permute(0, 1, 2, 4, 3, 5)
            coefficients = tiles.reshape(m, -1, 64) * 255 @ both.T
            step = (table.reshape(1, 64) * scale[:, None]).clamp(min=1)[:, None]
            tiles = ((coefficients / step).round() * step @ both / 255).reshape(tiles.shape)
            return tiles.permute(0, 1, 2, 4, 3, 5).reshape(m, c, h, w)

        luma_table = torch.tensor(LUMA_TABLE, device=self.device, dtype=torch.float32)
        chroma_table = torch.tensor(CHROMA_TABLE, device=self.device, dtype=torch.float32)
        luma = squeeze(luma[:, None] - 0.5, luma_table)[:, 0] + 0.5
        half = squeeze(F.avg_pool2d(chroma, 2), chroma_table)
        chroma = F.interpolate(half, size=(s, s), mode="bilinear", align_corners=False)
        blue, red = luma + 1.772 * chroma[:, 0], luma + 1.402 * chroma[:, 1]
        green = luma - 0.344 * chroma[:, 0] - 0.714 * chroma[:, 1]
        keep = self.chance(n, 0.8)[:, None, None, None]
        return torch.where(keep, torch.stack([blue, green, red], 1), x).clamp(0, 1)

    def margins(self, n: int) -> None:
        """Draw how much of the square a picture of a usual shape leaves free, on two sides."""
        draw = self.u(n)
        margin = torch.where(draw < 0.7, 0.125, torch.where(draw < 0.85, 0.0, 0.21)) * self.side
        sideways = self.chance(n, 0.5)
        none = torch.zeros_like(margin)
        self.margin = torch.stack(
            [torch.where(sideways, margin, none), torch.where(sideways, none, margin)], -1
        ).round()

    def bordered(self, x: Tensor) -> Tensor:
        """Fill the margins: grey as a letterboxed picture, or bars with signs as a screenshot."""
        n, s = len(x), self.side
        mx, my = self.margin[:, 0, None, None], self.margin[:, 1, None, None]
        outside = (self.x < mx) | (self.x > s - 1 - mx) | (self.y < my) | (self.y > s - 1 - my)
        x = torch.where(outside[:, None], torch.full_like(x, 114 / 255), x)
        shot = self.chance(n, 0.07)[:, None, None]
        tone = torch.where(self.chance(n, 0.6), 0.03, 0.96)[:, None, None, None].expand_as(x)
        rows = torch.sin(self.y[None] * self.u(n, 0.2, 1.2)[:, None, None]) * torch.sin(
            self.x[None] * self.u(n, 0.05, 0.9)[:, None, None]
        )
        signs = (rows > 0.82)[:, None].float() * 0.6
        bar = (tone + signs * torch.where(tone > 0.5, -1.0, 1.0)).clamp(0, 1)
        return torch.where((outside & shot)[:, None], bar, x)


LUMA_TABLE = (
    (16, 11, 10, 16, 24, 40, 51, 61), (12, 12, 14, 19, 26, 58, 60, 55),
    (14, 13, 16, 24, 40, 57, 69, 56), (14, 17, 22, 29, 51, 87, 80, 62),
    (18, 22, 37, 56, 68, 109, 103, 77), (24, 35, 55, 64, 81, 104, 113, 92),
    (49, 64, 78, 87, 103, 121, 120, 101), (72, 92, 95, 98, 112, 100, 103, 99),
)  # fmt: skip
CHROMA_TABLE = (
    (17, 18, 24, 47, 99, 99, 99, 99), (18, 21, 26, 66, 99, 99, 99, 99),
    (24, 26, 56, 99, 99, 99, 99, 99), (47, 66, 99, 99, 99, 99, 99, 99),
    *((99,) * 8,) * 4,
)  # fmt: skip
