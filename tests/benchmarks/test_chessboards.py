"""Chessboards in real photographs: the textbook homography, a lens profile, a single photo."""

import json
import os
from pathlib import Path

import cv2
import numpy as np
import pytest

from tests.synthetic.chessboards import (
    OPENCV_SAMPLES,
    in_block_axes,
    located,
    opencv_boards,
    oriented,
    planes,
    profile_from,
    relative_errors,
    share_inside,
    textbook,
)
from visualiser.photo.photo import Photo

FOLDER = os.environ.get("VISUALISER_CHESSBOARDS", "")
"""A folder with chess_corners.json ({picture: {size: [columns, rows], corners}}) and pictures."""


def folder_boards():
    boards = []
    root = Path(FOLDER)
    for name, entry in sorted(json.loads((root / "chess_corners.json").read_text()).items()):
        columns, rows = entry["size"]
        if not (root / name).exists() or min(columns, rows) < 4:
            continue
        rgb = np.ascontiguousarray(cv2.imread(str(root / name))[..., ::-1])
        photo = Photo(rgb, camera="folder")
        # Published lists stray by up to three pixels: they say where to look.
        grid = np.reshape(entry["corners"], (rows, columns, 2))
        corners = located(cv2.cvtColor(rgb, cv2.COLOR_RGB2GRAY), grid)
        boards.append(oriented(name, photo, rows, columns, corners))
    return boards


@pytest.mark.benchmark
@pytest.mark.parametrize("source", ["left", "right", "folder"])
def test_the_rest_of_the_board(source, capsys):
    if source == "folder":
        if not FOLDER:
            pytest.skip("VISUALISER_CHESSBOARDS names no folder")
        boards = folder_boards()
        usual = max(
            {b.photo.pixels.shape for b in boards},
            key=lambda s: sum(b.photo.pixels.shape == s for b in boards),
        )
        boards = [b for b in boards if b.photo.pixels.shape == usual]
    else:
        if not (OPENCV_SAMPLES / "left01.jpg").exists():
            pytest.skip("Debian's opencv-doc is not installed")
        boards = opencv_boards(source)
    errors, inside, focal = [], [], []
    for board in boards:
        profile = profile_from([b for b in boards if b is not board])
        pair = planes(board, profile)
        predicted = [textbook(board), *(in_block_axes(p, board.corners_px) for p in pair)]
        errors.append([relative_errors(board, p).mean() for p in predicted])
        inside.append([share_inside(board, plane) for plane in pair])
        off = np.log(pair[1].lens.focal_px / profile.lens.focal_px)
        focal.append(abs(off) <= 1.96 * np.sqrt(pair[1].parameter_covariance[6, 6]))
    plain, known, single = 100 * np.mean(errors, axis=0)
    held = np.mean(inside, axis=0)
    by_photo = np.mean(np.array(inside) >= 0.9, axis=0)
    with capsys.disabled():
        print(
            f"\n{source}: {len(boards)} boards, mean error in % of the distance: homography "
            f"{plain:.2f}, with profile {known:.2f} ({plain / known:.1f} times better), single "
            f"photo {single:.2f} ({plain / single:.1f} times better); corners inside their 95 % "
            f"regions {held[0]:.0%} and {held[1]:.0%}, 90 % of them in {by_photo[0]:.0%} and "
            f"{by_photo[1]:.0%} of the photos; focal length inside its range in "
            f"{np.mean(focal):.0%}"
        )
    assert known < (2.2 if source == "folder" else 0.8)
    assert single < 0.5 * plain
    assert np.mean(focal) >= 0.9
    if source != "folder":
        assert min(held) >= 0.85
