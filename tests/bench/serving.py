"""The server over HTTP: form post to fragment with 1 and 20 clients, start, memory, bytes of the first page."""

from __future__ import annotations

import http.client
import os
import re
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from html import unescape
from urllib.parse import urlencode

from tests.bench.measure import percentile, resident_mb
from tests.demo import load_demo
from wheelwork.pages.plan import permalink_of

Line = tuple[str, str, str]
POSTS = 400


def measure() -> Iterator[Line]:
    """The lines of this part of the table."""
    for workers in (1, 2):
        with Running(workers) as server:
            if workers == 1:
                yield "start to first answer", f"{server.started:.2f} s", "1.5 s"
                yield "memory at rest", f"{resident_mb(server.pid):.0f} MB", "120 MB"
                yield (
                    "bytes of the first page over the wire, with fonts",
                    f"{first_visit(server.port) / 1000:.0f} kB",
                    "120 kB",
                )
            for clients in (1, 20):
                times = posts(server.port, clients)
                goal = "" if clients == 1 else f"{60 * workers} ms"
                what = f"post to fragment, large part, {workers} worker(s), {clients} client(s)"
                yield f"{what}, p50", f"{percentile(times, 0.5):.1f} ms", ""
                yield f"{what}, p95", f"{percentile(times, 0.95):.1f} ms", goal


class Running:
    """A server in a process of its own."""

    def __init__(self, workers: int) -> None:
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port: int = free.getsockname()[1]
        self.workers = workers

    def __enter__(self) -> Running:
        line = [sys.executable, "-m", "wheelwork", "serve", "--port", str(self.port), "--workers", str(self.workers)]
        began = time.perf_counter()
        self.process = subprocess.Popen(line, env={**os.environ, "WHEELWORK_LOG": "warning"})
        self.pid = self.process.pid
        while True:
            try:
                if get(self.port, "/")[0] == 200:
                    break
            except OSError:
                time.sleep(0.005)
        self.started = time.perf_counter() - began
        return self

    def __exit__(self, *fault: object) -> None:
        self.process.terminate()
        self.process.wait(20)


def get(port: int, path: str) -> tuple[int, bytes]:
    """One GET with compression; status and the body as it came over the wire."""
    link = http.client.HTTPConnection("127.0.0.1", port, timeout=20)
    link.request("GET", path, headers={"accept-encoding": "gzip"})
    answer = link.getresponse()
    body = answer.read()
    link.close()
    return answer.status, body


def first_visit(port: int) -> int:
    """All bytes of the first page with what it links."""
    link = http.client.HTTPConnection("127.0.0.1", port, timeout=20)
    link.request("GET", "/")
    page = link.getresponse().read().decode()
    paths = {"/", *re.findall(r'(?:src|href)="(/static/[^"]+)"', page)}
    sheets = [path for path in paths if path.endswith(".css")]
    for sheet in sheets:
        link.request("GET", sheet)
        text = link.getresponse().read().decode()
        paths |= {f"/static/{found}" for found in re.findall(r'url\("(vendor/[^"]+)"\)', text)}
    return sum(len(get(port, path)[1]) for path in paths)


def posts(port: int, clients: int) -> list[float]:
    """The times (ms) of form posts by some clients at once, each changing a divider of the large part's plan."""
    part, plan = load_demo("05-pier-head-logging")
    link = permalink_of(plan, part)
    link_ = http.client.HTTPConnection("127.0.0.1", port, timeout=20)
    link_.request("GET", "/plan?" + urlencode({"plan": link}))
    fields = form_fields(link_.getresponse().read().decode())
    times: list[float] = []

    def run(number: int) -> None:
        connection = http.client.HTTPConnection("127.0.0.1", port, timeout=20)
        for count in range(POSTS // clients):
            body = urlencode(
                {**fields, "set.display_tap": str(12 + (number + count) % 9), "name": f"run {number} {count}"}
            )
            headers = {
                "hx-request": "true",
                "accept-encoding": "gzip",
                "content-type": "application/x-www-form-urlencoded",
            }
            began = time.perf_counter()
            connection.request("POST", "/plan", body, headers)
            answer = connection.getresponse()
            answer.read()
            assert answer.status == 200
            if count:
                times.append((time.perf_counter() - began) * 1000)

    threads = [threading.Thread(target=run, args=(number,)) for number in range(clients)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return times


def form_fields(page: str) -> dict[str, str]:
    """The fields of the page's form with their values."""
    fields = {}
    for found in re.finditer(r'<input (?!type="submit")[^>]*?name="([^"]+)"[^>]*?value="([^"]*)"', page):
        fields[unescape(found[1])] = unescape(found[2])
    for found in re.finditer(r'<select [^>]*?name="([^"]+)".*?</select>', page, re.S):
        chosen = re.search(r'value="([^"]*)" selected', found[0])
        if chosen:
            fields[unescape(found[1])] = unescape(chosen[1])
    return fields
