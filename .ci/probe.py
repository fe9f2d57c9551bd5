"""Tries the image from inside: starts its server, asks what a browser and an engine ask, stops it."""

import os
import re
import socket
import subprocess
import sys
import time
from http.client import HTTPConnection
from pathlib import Path

PATIENCE = 30


def free_port() -> int:
    """A port that nobody listens on; the probe shares the net of its machine."""
    with socket.create_server(("127.0.0.1", 0)) as bound:
        return int(bound.getsockname()[1])


def ask(path: str) -> tuple[int, bytes]:
    """The status and body of one answer."""
    connection = HTTPConnection("127.0.0.1", int(os.environ["WHEELWORK_PORT"]), timeout=10)
    connection.request("GET", path)
    answer = connection.getresponse()
    return answer.status, answer.read()


def wait_for(server: subprocess.Popen[bytes]) -> None:
    """Return once the server answers; fail if it ends or takes too long."""
    ends = time.monotonic() + PATIENCE
    while True:
        try:
            ask("/healthz")
            return
        except OSError:
            assert server.poll() is None, f"the server ended with {server.returncode}"
            assert time.monotonic() < ends, f"no answer within {PATIENCE} s"
            time.sleep(0.1)


def can_write(folder: str) -> bool:
    """Whether a file can be made in a folder."""
    try:
        (Path(folder) / "probe").touch()
    except OSError:
        return False
    (Path(folder) / "probe").unlink()
    return True


def main(health: str) -> None:
    """Try the image; raise on the first thing that is not as it should be."""
    assert os.getuid() == 10001, f"runs as {os.getuid()}"
    assert can_write("/data/parts"), "/data/parts cannot be written"
    assert not can_write("/opt/wheelwork/bin"), "the program can be overwritten"
    assert not list(Path("/opt/wheelwork").rglob("pip")), "pip is still there"
    os.environ["WHEELWORK_PORT"] = str(free_port())
    server = subprocess.Popen(["wheelwork", "serve"])
    try:
        wait_for(server)
        status, told = ask("/readyz")
        assert status == 200, f"/readyz answered {status}: {told.decode()}"
        status, page = ask("/")
        assert status == 200, f"/ answered {status}"
        assert b"<title>" in page, "/ is no page"
        for name in re.findall(rb'(?:src|href)="(/static/[^"]+)"', page):
            assert ask(name.decode())[0] == 200, f"{name.decode()} is not served"
        subprocess.run([sys.executable, "-c", health], check=True)
    finally:
        server.terminate()
        server.wait(timeout=PATIENCE)
    refused = subprocess.run([sys.executable, "-c", health], stderr=subprocess.DEVNULL, check=False)
    assert refused.returncode != 0, "the health check is content without a server"
    print("image: the server answers, its files are served, the health check tells alive from dead")


if __name__ == "__main__":
    main(sys.argv[1])
