"""`wheelwork serve`: run the server; 127.0.0.1:8000 unless options or the environment say otherwise."""

from __future__ import annotations

import argparse
import logging
import os
import socket
from contextlib import suppress
from dataclasses import replace
from ipaddress import ip_address
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import uvicorn
from uvicorn.supervisors import Multiprocess

from wheelwork.command.check import tell_problems
from wheelwork.findings import Problem
from wheelwork.searches.board import FOLDER
from wheelwork.settings import MOST_WORKERS, Settings, read_passphrase, read_settings, variable
from wheelwork.watch.figures import FOLDER as FIGURES
from wheelwork.watch.log import log_settings

APP = "wheelwork.app:make_app"
LOG = logging.getLogger("wheelwork.serve")
SECONDS_TO_STOP = 10
SECONDS_IDLE = 75
"""So long a connection is kept without a request: longer than proxies do (nginx: 60 s), so that it is theirs to close.

Else a request can be on its way while the server hangs up, and no proxy may send one that changes something again.
"""
CAUTION = (
    "CAUTION: whoever reaches %s can keep, retire and put in part sheets. Set "
    f"{variable('passphrase')}, or {variable('user_header')} and {variable('trusted_proxies')}, or listen on 127.0.0.1."
)


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


class Processes(Multiprocess):
    """Several processes on one socket, which takes nothing more once they are told to end.

    Held open until the last has ended, it would let connections wait that nobody answers any more.
    """

    def terminate_all(self) -> None:
        """Tell all to end."""
        for bound in self.sockets:
            bound.close()
        super().terminate_all()


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
    serve(settings, bool(read_passphrase(settings)))
    return 0


def serve(settings: Settings, asks: bool) -> None:
    """Run one process, or several on one socket; `asks` tells that keeping needs a passphrase."""
    config = PromptConfig(
        APP,
        factory=True,
        host=settings.host,
        port=settings.port,
        workers=settings.workers,
        log_level=settings.log,
        log_config=log_settings(settings),
        access_log=False,  # each request has a line of our own
        proxy_headers=False,  # whom to believe is a setting of ours
        timeout_keep_alive=SECONDS_IDLE,
        timeout_graceful_shutdown=SECONDS_TO_STOP,
    )
    if not asks and not settings.user_header and reached_from_outside(settings.host):
        LOG.warning(CAUTION, settings.host)
    with suppress(KeyboardInterrupt):  # the usual way to stop it, and no fault
        if settings.workers == 1:
            uvicorn.Server(config).run()
        else:
            with TemporaryDirectory(prefix="wheelwork-") as folder:
                for variable_name, name in ((FOLDER, "searches"), (FIGURES, "figures")):
                    Path(folder, name).mkdir()
                    os.environ[variable_name] = str(Path(folder, name))  # its processes tell each other there
                Processes(config, [config.bind_socket()]).run()


def reached_from_outside(host: str) -> bool:
    """Whether other machines reach an address that is listened on.

    >>> [reached_from_outside(host) for host in ("127.0.0.1", "::1", "localhost", "0.0.0.0", "clocks.lab")]
    [False, False, False, True, True]
    """
    try:
        return not ip_address(host).is_loopback
    except ValueError:
        return host != "localhost"
