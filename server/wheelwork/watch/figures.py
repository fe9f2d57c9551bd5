"""Figures of the running server, in the text format of Prometheus (prometheus.io, Exposition formats, version 0.0.4).

Several processes on one port add theirs up in a folder that the command which starts them makes and names to the
library. Machines are told apart by whoever collects. No label holds anything that a person wrote: routes are told by
their template, methods by a closed list.
"""

from __future__ import annotations

import os
import re
from contextlib import suppress
from pathlib import Path
from typing import Any, Literal

from prometheus_client import (
    CollectorRegistry,
    Counter,
    Gauge,
    Histogram,
    disable_created_metrics,
    generate_latest,
    multiprocess,
)
from prometheus_client.exposition import CONTENT_TYPE_PLAIN_0_0_4 as CONTENT_TYPE

FOLDER = "PROMETHEUS_MULTIPROC_DIR"
"""The library's own name for the folder."""

METHODS = frozenset({"GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS"})
BUCKETS = (0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1, 2.5, 5, 10, 60)
NO_ROUTE = "none"

__all__ = ["CONTENT_TYPE", "Event", "Figures", "route_of"]

Event = Literal["kept", "overtaken"]

disable_created_metrics()  # type: ignore[no-untyped-call]  # when each counter began is no question of ours


class Figures:
    """The figures of one server."""

    def __init__(self, version: str) -> None:
        self.folder = os.environ.get(FOLDER)
        self.registry = own = CollectorRegistry()
        self.requests = Counter("wheelwork_requests", "Requests answered.", ["method", "route", "status"], registry=own)
        self.seconds = Histogram(
            "wheelwork_request_seconds",
            "How long an answer took, its body included.",
            ["method", "route"],
            buckets=BUCKETS,
            registry=own,
        )
        self.running = Gauge(
            "wheelwork_requests_running", "Requests being answered.", multiprocess_mode="livesum", registry=own
        )
        self.kept = Counter("wheelwork_revisions_kept", "Revisions put on the shelf.", registry=own)
        self.overtaken = Counter(
            "wheelwork_revisions_overtaken",
            "Revisions not kept because another was kept meanwhile; whoever kept was shown both.",
            registry=own,
        )
        self.searches = Gauge(
            "wheelwork_searches_running", "Searches running.", multiprocess_mode="livesum", registry=own
        )
        self.shelf = Gauge(
            "wheelwork_shelf_up", "1 where the shelf answers, else 0.", multiprocess_mode="mostrecent", registry=own
        )
        about = Gauge(
            "wheelwork_info", "1, with the version as a label.", ["version"], multiprocess_mode="max", registry=own
        )
        about.labels(version).set(1)

    def answered(self, method: str, route: str, status: int, seconds: float) -> None:
        """Count a request."""
        known = method if method in METHODS else "other"
        self.requests.labels(known, route, str(status)).inc()
        self.seconds.labels(known, route).observe(seconds)

    def tell(self, event: Event) -> None:
        """Count what happened on the shelf."""
        (self.kept if event == "kept" else self.overtaken).inc()

    def text(self) -> bytes:
        """All figures, those of the other processes on the port added."""
        if self.folder is None:
            return generate_latest(self.registry)
        _forget_ended(Path(self.folder))
        together = CollectorRegistry()
        multiprocess.MultiProcessCollector(together, self.folder)  # type: ignore[no-untyped-call]
        return generate_latest(together)


def route_of(scope: Any) -> str:
    """The template of the route that answered, such as /api/plans/{id}; of a folder of files its name."""
    template = getattr(scope.get("route"), "path", None)
    if isinstance(template, str):
        return template
    return "/static" if str(scope.get("path", "")).startswith("/static/") else NO_ROUTE


def _forget_ended(folder: Path) -> None:
    """Let go of what a process that has ended was busy with; what it has counted stays."""
    for file in folder.glob("gauge_live*.db"):
        found = re.search(r"_(\d+)\.db$", file.name)
        if found and not Path(f"/proc/{found[1]}").exists():
            with suppress(FileNotFoundError):
                file.unlink()
