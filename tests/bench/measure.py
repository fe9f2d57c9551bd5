"""Medians, percentiles and the machine they were taken on."""

from __future__ import annotations

import os
import platform
import statistics
import time
from collections.abc import Callable
from pathlib import Path


def median_ms(run: Callable[[], object], rounds: int = 7, inner: int = 20) -> float:
    """The median over some rounds of the mean time of a call, in milliseconds."""
    times = []
    for _ in range(rounds):
        started = time.perf_counter()
        for _ in range(inner):
            run()
        times.append((time.perf_counter() - started) * 1000 / inner)
    return statistics.median(times)


def percentile(values: list[float], share: float) -> float:
    """The value below which a share of all lies."""
    ordered = sorted(values)
    return ordered[min(len(ordered) - 1, int(share * len(ordered)))]


def machine() -> str:
    """The machine in one line."""
    name = platform.processor() or platform.machine()
    info = Path("/proc/cpuinfo")
    if info.is_file():
        lines = [line.partition(":")[2].strip() for line in info.read_text().splitlines() if "model name" in line]
        name = lines[0] if lines else name
    return f"{name}, {os.cpu_count()} cores, Python {platform.python_version()}, {platform.system()}"


def resident_mb(process: int) -> float:
    """The memory a process holds, in MB (Linux)."""
    for line in Path(f"/proc/{process}/status").read_text().splitlines():
        if line.startswith("VmRSS"):
            return int(line.split()[1]) / 1024
    return 0.0
