"""Disks that are full and folders that cannot be written, also for root."""

from __future__ import annotations

import ctypes
import os
import subprocess
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TypeVar

import pytest

T = TypeVar("T")
CAPABILITIES = 0x20080522
"""The version of the calls below (capget(2))."""
OF_ROOT = 0b1110
"""What lets root pass by a file's permissions: CAP_DAC_OVERRIDE, CAP_DAC_READ_SEARCH, CAP_FOWNER (capabilities(7))."""


def without_roots_rights(work: Callable[[], T]) -> T:
    """Do something as one for whom a file's permissions hold: in a thread, for such rights are a thread's own."""
    with ThreadPoolExecutor(1, initializer=_give_up_rights) as pool:
        return pool.submit(work).result()


def _give_up_rights() -> None:
    if os.geteuid() != 0:
        return
    libc = ctypes.CDLL(None, use_errno=True)
    head, sets = (ctypes.c_uint32 * 2)(CAPABILITIES, 0), (ctypes.c_uint32 * 6)()
    assert libc.capget(head, sets) == 0
    for place in range(3):  # effective, permitted, inheritable
        sets[place] &= ~OF_ROOT
    assert libc.capset(head, sets) == 0


@contextmanager
def small_disk(folder: Path, kilobytes: int) -> Iterator[Path]:
    """A disk of so many kilobytes; skips the test for who may not mount one."""
    folder.mkdir()
    line = ["mount", "-t", "tmpfs", "-o", f"size={kilobytes}k", "tmpfs", str(folder)]
    done = subprocess.run(line, capture_output=True, text=True, check=False, timeout=20)
    if done.returncode:
        pytest.skip(f"no small disk can be mounted here: {done.stderr.strip()}")
    try:
        yield folder
    finally:
        subprocess.run(["umount", "-l", str(folder)], check=True, timeout=20)


@contextmanager
def filled(folder: Path) -> Iterator[None]:
    """No room on a disk."""
    path = folder / "filling"
    file = os.open(path, os.O_WRONLY | os.O_CREAT)
    with suppress(OSError):
        while True:
            os.write(file, bytes(4096))
    os.close(file)
    yield
    path.unlink()


@contextmanager
def only_readable(*paths: Path) -> Iterator[None]:
    """Files and folders that cannot be written."""
    before = [path.stat().st_mode for path in paths]
    for path, mode in zip(paths, before, strict=True):
        path.chmod(mode & 0o555)
    try:
        yield
    finally:
        for path, mode in zip(paths, before, strict=True):
            path.chmod(mode)
