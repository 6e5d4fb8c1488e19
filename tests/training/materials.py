"""Pack licensed pictures, fonts and words for training, and write the list of where they come from.

    python materials.py COPIES PACKAGES OUT

COPIES holds one folder a repository, OWNER+NAME/<git directory>; PACKAGES holds unpacked Debian
packages (fonts-lato, fonts-liberation2, fonts-comic-neue, fonts-ebgaramond, wamerican,
mypaint-data-extras). OUT gets ``materials.npz`` and ``fonts/``; ATTRIBUTION.csv
beside this file gets a line a picture. Only what SOURCES names is read.
"""

from __future__ import annotations

import csv
import hashlib
import shutil
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from patches import Materials

LONG_SIDE = 512
WEBP_QUALITY = 66


@dataclass(frozen=True)
class Source:
    """Where pictures come from, and how many to take."""

    repository: str
    commit: str
    licence: str
    prefixes: tuple[str, ...]
    count: int
    role: str  # 'background' or 'probe'


SOURCES = (
    Source(
        "alexeygrigorev/clothing-dataset", "7ed86a9cc56763b6acb35e41cb35184e43a5d218", "CC0-1.0",
        ("images/",), 1900, "background",
    ),
    Source(
        "marcusklasson/GroceryStoreDataset", "fc80ba90f803d79d0383df52c5a4ac5de99ff6fc", "MIT",
        ("dataset/train/", "dataset/val/", "dataset/test/"), 450, "background",
    ),
    Source(
        "pmndrs/assets", "d8709a9b11247dc51b72bb32fade56048807d868", "CC0-1.0",
        ("src/hdri/",), 18, "probe",
    ),
)  # fmt: skip
LEFT_OUT_LABELS = {"Not sure", "Other", "Skip"}  # labels of the first source: may hold anything
VIEWS_OF_A_PROBE = 30
FONTS = (
    "Lato-Regular", "Lato-Bold", "Lato-Italic", "Lato-Light", "Lato-Black",
    "LiberationSans-Regular", "LiberationSans-Bold", "LiberationSerif-Regular",
    "LiberationSerif-Italic", "LiberationMono-Regular", "ComicNeue-Regular", "ComicNeue-Bold",
    "EBGaramond12-Regular", "EBGaramond12-Italic",
)  # fmt: skip


def git(copies: Path, repository: str, *args: str) -> bytes:
    """Run git in the copy of a repository."""
    directory = copies / repository.replace("/", "+") / "repo"
    directory = directory / ".git" if (directory / ".git").is_dir() else directory
    return subprocess.run(
        ["git", f"--git-dir={directory}", *args], check=True, capture_output=True
    ).stdout


def contents(copies: Path, source: Source, names: list[str]) -> Iterator[tuple[str, bytes]]:
    """Read files of a source, through one git process."""
    asked = "".join(f"{source.commit}:{n}\n" for n in names).encode()
    directory = copies / source.repository.replace("/", "+") / "repo"
    directory = directory / ".git" if (directory / ".git").is_dir() else directory
    answer = subprocess.run(
        ["git", f"--git-dir={directory}", "cat-file", "--batch"],
        input=asked, check=True, capture_output=True,
    ).stdout  # fmt: skip
    at = 0
    for name in names:
        end = answer.index(b"\n", at)
        head = answer[at:end].split()
        at = end + 1
        if head[-1] == b"missing":
            continue
        size = int(head[2])
        yield name, answer[at : at + size]
        at += size + 1


def chosen(copies: Path, source: Source) -> list[str]:
    """Choose a source's files, in an order fixed by their names' hashes."""
    listed = git(copies, source.repository, "ls-tree", "-r", "--name-only", source.commit)
    ends = (".jpg", ".jpeg", ".png", ".hdr", ".exr")
    names = [
        n for n in listed.decode().splitlines()
        if n.startswith(source.prefixes) and n.lower().endswith(ends)
    ]  # fmt: skip
    if source.repository.endswith("clothing-dataset"):
        table = git(copies, source.repository, "show", f"{source.commit}:images.csv").decode()
        rows = [line.split(",") for line in table.splitlines()[1:]]
        doubtful = {row[0] for row in rows if row[2] in LEFT_OUT_LABELS}
        names = [n for n in names if Path(n).stem not in doubtful]
    names.sort(key=lambda n: hashlib.sha256(n.encode()).hexdigest())
    return names[: source.count]


def reduced(picture: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Reduce a picture to the packed size."""
    scale = LONG_SIDE / max(picture.shape[:2])
    if scale < 1:
        picture = cv2.resize(picture, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    return picture


def probe_views(probe: NDArray[np.float32], rng: np.random.Generator) -> list[NDArray[np.uint8]]:
    """Cut photographs out of a light probe: a pinhole camera at random, exposed by its median."""
    rows, cols = probe.shape[:2]
    views = []
    for _ in range(VIEWS_OF_A_PROBE):
        wide, tall = (384, 288) if rng.random() < 0.6 else (288, 384)
        focal = max(wide, tall) * rng.uniform(0.65, 1.1)
        y, x = np.mgrid[0:tall, 0:wide].astype(np.float64)
        rays = np.stack([x - wide / 2, y - tall / 2, np.full_like(x, focal)], -1)
        rays /= np.linalg.norm(rays, axis=-1, keepdims=True)
        tilt, turn = np.radians(rng.normal(5, 14)), rng.uniform(0, 2 * np.pi)
        cos, sin = np.cos(tilt), np.sin(tilt)
        down, ahead = (
            rays[..., 1] * cos + rays[..., 2] * sin,
            rays[..., 2] * cos - rays[..., 1] * sin,
        )
        longitude = np.arctan2(rays[..., 0], ahead) + turn
        latitude = np.arcsin(np.clip(down, -1, 1))
        u = (longitude / (2 * np.pi) % 1) * cols
        v = (latitude / np.pi + 0.5) * rows
        light = cv2.remap(
            probe, u.astype(np.float32), v.astype(np.float32), cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_WRAP,
        )  # fmt: skip
        exposed = light / max(1e-6, float(np.median(light))) * rng.uniform(0.12, 0.4)
        toned = exposed / (1 + exposed / 1.6) ** 1.0
        views.append((np.clip(toned, 0, 1) ** (1 / 2.2) * 255).astype(np.uint8))
    return views


def packed(picture: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Compress a picture for the pack."""
    return cv2.imencode(".webp", picture, [cv2.IMWRITE_WEBP_QUALITY, WEBP_QUALITY])[1].ravel()


def pack(copies: Path, packages: Path, out: Path) -> None:
    """Pack every source and write the attribution list."""
    backgrounds, prints, lines = [], [], []

    def note(where: str, version: str, path: str, licence: str, data: bytes) -> None:
        lines.append((where, version, path, hashlib.sha256(data).hexdigest(), licence))

    for source in SOURCES:
        for name, data in contents(copies, source, chosen(copies, source)):
            flags = cv2.IMREAD_UNCHANGED if source.role == "probe" else cv2.IMREAD_COLOR
            picture = cv2.imdecode(np.frombuffer(data, np.uint8), flags)
            if picture is None:
                continue
            note(source.repository, source.commit, name, source.licence, data)
            if source.role == "probe":
                seed = int(hashlib.sha256(name.encode()).hexdigest()[:8], 16)
                views = probe_views(
                    picture[..., :3].astype(np.float32), np.random.default_rng(seed)
                )
                backgrounds += [packed(v) for v in views]
            else:
                backgrounds.append(packed(reduced(picture)))
    for folder in ("mrmamurk", "ramon"):
        for path in sorted(packages.glob(f"usr/share/mypaint/backgrounds/{folder}/*.png")):
            picture = cv2.imread(str(path))
            note("Debian mypaint-data-extras", "2.0.1", path.name, "CC0-1.0", path.read_bytes())
            prints.append(packed(reduced(picture)))
    fonts = out / "fonts"
    fonts.mkdir(parents=True, exist_ok=True)
    for path in sorted(packages.rglob("usr/share/fonts/**/*.[to]tf")):
        if path.stem in FONTS:
            shutil.copy(path, fonts / path.name)
            note("Debian " + path.parent.name, "bookworm", path.name, "OFL-1.1", path.read_bytes())
    dictionary = packages / "usr/share/dict/american-english"
    note(
        "Debian wamerican",
        "2020.12.07",
        "american-english",
        "SCOWL (free)",
        dictionary.read_bytes(),
    )
    words = [w for w in dictionary.read_text().splitlines() if w.isascii() and w.isalpha()]
    blobs = backgrounds + prints
    np.savez(
        out / "materials.npz",
        data=np.concatenate(blobs),
        lengths=np.array([len(b) for b in blobs]),
        backgrounds=np.array(len(backgrounds)),
        words=np.array(words[::40]),
    )
    with (Path(__file__).parent / "ATTRIBUTION.csv").open("w", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(["source", "version", "path", "sha256", "licence"])
        writer.writerows(lines)
    print(len(backgrounds), "backgrounds,", len(prints), "papers,", len(lines), "files listed")


def load(folder: Path) -> tuple[list[NDArray[np.uint8]], Materials]:
    """Read a pack: backgrounds as BGR pictures, and what patches are drawn from."""
    pack = np.load(folder / "materials.npz")
    pieces = np.split(pack["data"], np.cumsum(pack["lengths"])[:-1])
    pictures = [cv2.imdecode(p, cv2.IMREAD_COLOR) for p in pieces]
    fonts = tuple(
        f for f in sorted((folder / "fonts").glob("*.*tf"))
        if not any(bad in f.name for bad in ("Hairline", "Thin"))
    )  # fmt: skip
    materials = Materials(tuple(pictures), fonts, tuple(str(w) for w in pack["words"]))
    return pictures[: int(pack["backgrounds"])], materials


if __name__ == "__main__":
    pack(Path(sys.argv[1]), Path(sys.argv[2]), Path(sys.argv[3]))
