"""Fixtures for all tests: the running server, a page that bears no fault, the demo's parts and plans."""

from __future__ import annotations

import os
import socket
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
import uvicorn
from fastapi import FastAPI
from fastapi.testclient import TestClient
from hypothesis import settings as hypothesis_settings
from playwright.sync_api import Browser, Page, Playwright, Request, expect

from tests.browser import NoBrowser, find_browser, launch_arguments
from tests.compilers import NoCompiler, need_compilers
from wheelwork.app import make_app
from wheelwork.settings import Settings

pytest_plugins = ["tests.postgres"]
TESTS = Path(__file__).parent
AXE = TESTS / "vendor" / "axe-4.14.1.min.js"
AXE_TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
expect.set_options(timeout=20_000)  # a loaded machine is slow, not wrong
hypothesis_settings.register_profile("desk", deadline=None)
hypothesis_settings.register_profile("gate", deadline=None, derandomize=True)  # the same examples for the same change
hypothesis_settings.load_profile("gate" if os.environ.get("CI") else "desk")


def pytest_configure(config: pytest.Config) -> None:
    """Find browser and compilers once, before any test, and tell the workers of a parallel run."""
    if hasattr(config, "workerinput") or config.option.collectonly:
        return
    try:
        os.environ["WHEELWORK_TEST_BROWSER"] = str(find_browser())
        need_compilers()
    except (NoBrowser, NoCompiler) as fault:
        pytest.exit(str(fault), returncode=3)


@pytest.fixture(scope="session")
def client(tmp_path_factory: pytest.TempPathFactory) -> TestClient:
    """The application, asked without a network; its shelf is its own."""
    return TestClient(make_app(Settings(data=tmp_path_factory.mktemp("data"))), raise_server_exceptions=True)


@pytest.fixture(scope="session")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The address of a server that runs the real application; its shelf is its own."""
    with serving(Settings(data=tmp_path_factory.mktemp("data"))) as address:
        yield address


@contextmanager
def serving(settings: Settings, app: FastAPI | None = None) -> Iterator[str]:
    """A server of the real application, at the address given."""
    bound = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    bound.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
    bound.bind(("127.0.0.1", 0))
    running = uvicorn.Server(uvicorn.Config(app or make_app(settings), log_level="warning"))
    thread = threading.Thread(target=running.run, kwargs={"sockets": [bound]}, daemon=True)
    thread.start()
    while not running.started:
        time.sleep(0.01)
    yield f"http://127.0.0.1:{bound.getsockname()[1]}"
    running.should_exit = True
    thread.join()
    bound.close()


@pytest.fixture(scope="session")
def browser(playwright: Playwright) -> Iterator[Browser]:
    """The browser of this run."""
    path = os.environ["WHEELWORK_TEST_BROWSER"]
    launched = playwright.chromium.launch(executable_path=path, args=launch_arguments())
    yield launched
    launched.close()


@pytest.fixture
def open_page(browser: Browser, server: str) -> Iterator[Callable[..., Page]]:
    """Opens pages; a console message, a page fault, a failed or a foreign request fails the test."""
    faults: list[str] = []
    contexts = []

    def watch_request(request: Request) -> None:
        if not request.url.startswith((server, "data:", "blob:")):
            faults.append(f"left the server: {request.url}")

    def failed(request: Request) -> None:
        if request.failure != "net::ERR_ABORTED":
            faults.append(f"failed: {request.url} {request.failure}")

    def open_one(path: str = "/", refused: bool = False, **options: Any) -> Page:
        context = browser.new_context(base_url=server, **options)
        contexts.append(context)
        page = context.new_page()
        if not refused:  # a refused address is a console message by itself
            page.on("console", lambda message: faults.append(f"console: {message.text}"))
        page.on("pageerror", lambda error: faults.append(f"page: {error}"))
        page.on("request", watch_request)
        page.on("requestfailed", failed)
        page.goto(path)
        return page

    yield open_one
    for context in contexts:
        context.close()
    assert faults == []


@pytest.fixture
def page(open_page: Callable[..., Page]) -> Page:
    """The first page at 1440 px."""
    return open_page("/", viewport={"width": 1440, "height": 900})


def axe_violations(page: Page) -> list[str]:
    """What axe-core finds on a page, each with the elements it stands at."""
    page.evaluate(AXE.read_text())
    found = page.evaluate("tags => axe.run(document, {runOnly: {type: 'tag', values: tags}})", AXE_TAGS)
    return [f"{v['id']}: {[node['target'] for node in v['nodes']]}" for v in found["violations"]]
