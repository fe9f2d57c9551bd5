"""`wheelwork serve`: run the server; 127.0.0.1:8000 unless options or the environment say otherwise."""

from __future__ import annotations

import argparse
import os
import socket
from contextlib import suppress
from dataclasses import replace
from tempfile import TemporaryDirectory
from typing import Any

import uvicorn
from uvicorn.supervisors import Multiprocess

from wheelwork.command.check import tell_problems
from wheelwork.findings import Problem
from wheelwork.searches.board import FOLDER
from wheelwork.settings import MOST_WORKERS, Settings, read_settings

APP = "wheelwork.app:make_app"


class PromptConfig(uvicorn.Config):
    """A configuration whose shared socket sends a small answer at once.

    A socket made without its protocol keeps Nagle's wait: 44 ms for each answer on a kept connection (uvicorn issue
    3149).
    """

    def bind_socket(self) -> socket.socket:
        """The bound socket with TCP_NODELAY."""
        bound = super().bind_socket()
        bound.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        return bound


def add_to(commands: Any) -> None:
    """Add the command."""
    parser = commands.add_parser("serve", help="run the server", description=__doc__)
    parser.add_argument("--host", help="the address to listen on (WHEELWORK_HOST, 127.0.0.1)")
    parser.add_argument("--port", type=int, help="the port to listen on (WHEELWORK_PORT, 8000)")
    parser.add_argument("--workers", type=int, help="how many server processes (WHEELWORK_WORKERS, 1)")
    parser.set_defaults(run=run)


def run(parsed: argparse.Namespace) -> int:
    """Serve until stopped."""
    settings = read_settings()
    given = {name: value for name in ("host", "port", "workers") if (value := getattr(parsed, name)) is not None}
    settings = replace(settings, **given)
    if not 0 <= settings.port <= 65535:
        return tell_problems([Problem("--port", f"{settings.port} is not offered", "write 0 to 65535")])
    if not 1 <= settings.workers <= MOST_WORKERS:
        return tell_problems([Problem("--workers", f"{settings.workers} is not offered", f"write 1 to {MOST_WORKERS}")])
    serve(settings)
    return 0


def serve(settings: Settings) -> None:
    """Run one process, or several on one socket."""
    config = PromptConfig(
        APP,
        factory=True,
        host=settings.host,
        port=settings.port,
        workers=settings.workers,
        log_level=settings.log,
        timeout_graceful_shutdown=10,
    )
    with suppress(KeyboardInterrupt):  # the usual way to stop it, and no fault
        if settings.workers == 1:
            uvicorn.Server(config).run()
        else:
            with TemporaryDirectory(prefix="wheelwork-") as folder:
                os.environ[FOLDER] = folder  # its processes tell each other of their searches there
                Multiprocess(config, [config.bind_socket()]).run()
