"""One table of what everything costs: ours, the usual way, the least there is; ratios only.

    python -m tests.benchmarks.table [--json FILE] [--picture FILE] [--markdown FILE]

Processor time on one thread, the best of a few runs, all in one go, so that ratios hold on a busy
machine. Memory is the peak above what was held before, where the system tells it (Linux).
"""

import argparse
import ctypes
import gc
import json
import math
import os
import platform
import sys
import time
import warnings
from datetime import date
from pathlib import Path

import cv2
from PIL import Image, ImageDraw, ImageFont

from tests.benchmarks.tasks import TASKS
from tests.memory import status_kb

BUDGET_S, MOST_RUNS = 0.8, 4


def best_of(work):
    """Least processor time of a few runs, in seconds."""
    times = []
    while len(times) < MOST_RUNS and sum(times) < BUDGET_S:
        start = time.process_time()
        work()
        times.append(time.process_time() - start)
    return max(min(times), 1e-6)


def peak_mb(work):
    """Megabytes that work takes at its peak beyond what was held; NaN where that is not told."""
    gc.collect()
    try:
        ctypes.CDLL(None).malloc_trim(0)  # what was freed and kept would hide what is taken
        Path("/proc/self/clear_refs").write_text("5")
        before = status_kb("VmRSS")
        work()
        return max(status_kb("VmHWM") - before, 0.0) / 1000
    except (OSError, AttributeError):
        return math.nan


def measured(name):
    prepare, peer_name, floor_name = TASKS[name]
    sizes = []
    for size in range(3):
        ours, peer, floor = prepare(size)
        sizes.append(best_of(ours))
    peer_s, floor_s, peak = best_of(peer), best_of(floor), peak_mb(ours)
    return {
        "task": name,
        "peer": peer_name,
        "floor": floor_name,
        "ours_s": sizes,
        "peer_s": peer_s,
        "floor_s": floor_s,
        "times_peer": sizes[-1] / peer_s,
        "times_floor": sizes[-1] / floor_s,
        "growth": [one / sizes[0] for one in sizes],
        "peak_mb": peak,
    }


def figure(value):
    """Two figures, without powers of ten."""
    if math.isnan(value):
        return "–"
    return f"{value:.0f}" if value >= 9.95 else f"{value:.1f}" if value >= 0.095 else f"{value:.3f}"


def markdown(rows):
    lines = [
        "| work | against | ours takes | floor | ours takes | growth, three sizes | memory |",
        "|---|---|---|---|---|---|---|",
    ]
    for row in rows:
        growth = " : ".join(figure(g) for g in row["growth"])
        lines.append(
            f"| {row['task']} | {row['peer']} | × {figure(row['times_peer'])} | {row['floor']} "
            f"| × {figure(row['times_floor'])} | {growth} | {row['peak_mb']:.0f} MB |"
        )
    return "\n".join(lines)


def picture(rows):
    """Bars of ours against the peer and the floor, on a scale of powers of ten."""
    width, left, step = 1000, 250, 46
    image = Image.new("RGB", (width, 70 + step * len(rows)), "white")
    draw, font = ImageDraw.Draw(image), ImageFont.load_default(15)
    ratios = [r[k] for r in rows for k in ("times_peer", "times_floor")]
    low, high = (f(math.log10(v) for v in ratios) for f in (min, max))
    low, high = math.floor(min(low, 0)), math.ceil(max(high, 0))
    at = lambda value: left + (math.log10(value) - low) / (high - low) * (width - left - 30)  # noqa: E731
    for power in range(low, high + 1):
        x = at(10.0**power)
        colour = "black" if power == 0 else "#cccccc"
        draw.line((x, 30, x, image.height - 30), fill=colour)
        draw.text((x, image.height - 26), f"× {10.0**power:g}", "black", font, anchor="ma")
    for number, row in enumerate(rows):
        y = 40 + number * step
        draw.text((10, y + 14), row["task"], "black", font, anchor="lm")
        for offset, key, colour in ((4, "times_peer", "#2b6777"), (18, "times_floor", "#c8a45c")):
            ends = sorted((at(1.0), at(row[key])))
            draw.rectangle(
                (ends[0], y + offset, max(ends[1], ends[0] + 1), y + offset + 11), colour
            )
    draw.text((10, 8), "processor time of ours as a multiple of", "black", font)
    draw.text((290, 8), "the usual way", "#2b6777", font)
    draw.text((400, 8), "the floor", "#c8a45c", font)
    return image


def main():
    asked = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    for name in ("json", "picture", "markdown"):
        asked.add_argument(f"--{name}", type=Path)
    asked.add_argument("--only", help="tasks whose name holds this")
    wanted = asked.parse_args()
    cv2.setNumThreads(1)
    warnings.simplefilter("ignore")
    rows = []
    for name in TASKS:
        if wanted.only and wanted.only not in name:
            continue
        rows.append(measured(name))
        print(markdown(rows[-1:]).splitlines()[-1], file=sys.stderr, flush=True)
    cores, memory_gb = os.cpu_count(), memory_of_machine()
    about = f"{date.today()}, {cores} cores, {memory_gb:.0f} GB, {platform.python_version()}"
    print(f"{about}\n\n{markdown(rows)}")
    if wanted.json:
        wanted.json.write_text(json.dumps({"about": about, "rows": rows}, indent=1))
    if wanted.markdown:
        wanted.markdown.write_text(f"Measured {about}.\n\n{markdown(rows)}\n")
    if wanted.picture:
        picture(rows).save(wanted.picture)


def memory_of_machine():
    if not hasattr(os, "sysconf"):
        return math.nan
    return os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") / 1e9


if __name__ == "__main__":
    for variable in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
        if os.environ.get(variable) != "1":  # read when numpy loads: start again with it
            os.environ.update(OMP_NUM_THREADS="1", OPENBLAS_NUM_THREADS="1")
            os.execv(
                sys.executable, [sys.executable, "-m", "tests.benchmarks.table", *sys.argv[1:]]
            )
    main()
