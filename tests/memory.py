"""What a process holds at its peak, as the system counts it."""

import math
import resource
import sys
from pathlib import Path


def status_kb(field):
    """A line of Linux's own account of this process; NaN where there is none."""
    status = Path("/proc/self/status")
    for line in status.read_text().splitlines() if status.exists() else ():
        if line.startswith(field):
            return int(line.split()[1])
    return math.nan


def peak_bytes():
    """Peak of this process alone: what getrusage tells on Linux counts the one that started it."""
    peak_kb = status_kb("VmHWM")
    if not math.isnan(peak_kb):
        return peak_kb * 1024
    told = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return told * (1 if sys.platform == "darwin" else 1024)
