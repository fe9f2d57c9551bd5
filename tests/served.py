"""The command `serve` as a process of its own, with a shelf of its own."""

from __future__ import annotations

import http.client
import os
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from tempfile import TemporaryDirectory


def free_port() -> int:
    """A port that nobody listens on."""
    with closing(socket.create_server(("127.0.0.1", 0))) as bound:
        return int(bound.getsockname()[1])


@contextmanager
def served(*options: str, **settings: str) -> Iterator[tuple[subprocess.Popen[str], http.client.HTTPConnection]]:
    """The command at work, and a connection kept to it; settings by the names of their variables, such as LOG."""
    port = free_port()
    line = [sys.executable, "-m", "wheelwork", "serve", "--port", str(port), *options]
    with TemporaryDirectory() as folder:
        given = {"DATA": folder, **settings}
        environment = {**os.environ, **{f"WHEELWORK_{name}": value for name, value in given.items()}}
        process = subprocess.Popen(line, stderr=subprocess.PIPE, text=True, env=environment)
        connection = http.client.HTTPConnection("127.0.0.1", port, timeout=90)
        try:
            wait_for(process, port)
            yield process, connection
        finally:
            connection.close()
            process.terminate()
            process.communicate(timeout=30)


def wait_for(process: subprocess.Popen[str], port: int) -> None:
    """Return once the port answers; fail with what the process said where it ended before."""
    while True:
        try:
            socket.create_connection(("127.0.0.1", port)).close()
            return
        except ConnectionRefusedError:
            assert process.poll() is None, process.stderr and process.stderr.read()
            time.sleep(0.05)
