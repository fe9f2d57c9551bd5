"""The browser that the tests drive: found or installed, never skipped in silence."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

NAMES = ("chromium", "chromium-browser", "google-chrome")
ARGUMENTS = [
    "--disable-gpu",
    "--disable-dev-shm-usage",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
ASK_OWN = "from playwright.sync_api import sync_playwright as s\nwith s() as p: print(p.chromium.executable_path)"


class NoBrowser(RuntimeError):
    """No browser is there and none could be installed."""


def find_browser() -> Path:
    """The browser: the one named in WHEELWORK_TEST_BROWSER, else Playwright's own, one on PATH, one installed now."""
    named = os.environ.get("WHEELWORK_TEST_BROWSER")
    if named:
        if not Path(named).is_file():
            raise NoBrowser(f"WHEELWORK_TEST_BROWSER names {named}, which is not there; name a Chromium's program file")
        return Path(named)
    return _own() or _on_path() or _install()


def launch_arguments() -> list[str]:
    """The switches for a browser that asks nothing of the network; as root it needs to run without its sandbox."""
    return [*ARGUMENTS, "--no-sandbox"] if os.geteuid() == 0 else ARGUMENTS


def _own() -> Path | None:
    asked = subprocess.run([sys.executable, "-c", ASK_OWN], capture_output=True, text=True, check=False)
    path = Path(asked.stdout.strip() or "/nowhere")
    return path if path.is_file() else None


def _on_path() -> Path | None:
    return next((Path(found) for name in NAMES if (found := shutil.which(name))), None)


def _install() -> Path:
    apt = shutil.which("apt-get")
    if os.geteuid() == 0 and apt:
        print("tests: no browser found; installing Debian's chromium", file=sys.stderr)
        subprocess.run([apt, "update", "-qq"], check=False)
        line = [apt, "install", "-y", "-qq", "--no-install-recommends", "chromium", "libatomic1"]
        subprocess.run(line, check=False, stdout=subprocess.DEVNULL)
    else:
        print("tests: no browser found; asking Playwright to install Chromium", file=sys.stderr)
        subprocess.run([sys.executable, "-m", "playwright", "install", "chromium"], check=False)
    found = _own() or _on_path()
    if found is None:
        raise NoBrowser(
            "no browser: looked at WHEELWORK_TEST_BROWSER, Playwright's own and PATH, and could not install one. "
            "Install Debian's chromium, or run `python -m playwright install chromium`, or name one in "
            "WHEELWORK_TEST_BROWSER"
        )
    return found
