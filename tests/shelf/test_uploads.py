"""An upload of 50 MB is refused without being read whole: counted is what the server takes from the network."""

from __future__ import annotations

import socket
import threading
import time
from collections.abc import Iterator

import pytest
import uvicorn
from uvicorn.protocols.http.auto import AutoHTTPProtocol

from wheelwork.access.body import HEARD_OUT, LARGEST_BODY
from wheelwork.app import make_app
from wheelwork.settings import Settings

UPLOAD = 50 * 1024 * 1024
PIECE = b"#" * 65536
UNDER_WAY = 1024 * 1024
"""What the buffers between the network and the application hold when a limit is met."""

TAKEN: list[int] = []


class CountingProtocol(AutoHTTPProtocol):  # type: ignore[misc, valid-type]  # chosen by what is installed
    """The server's own way to read, counted."""

    def data_received(self, data: bytes) -> None:
        TAKEN.append(len(data))
        super().data_received(data)


@pytest.fixture(scope="module")
def port(tmp_path_factory: pytest.TempPathFactory) -> Iterator[int]:
    app = make_app(Settings(data=tmp_path_factory.mktemp("shelf")))
    with socket.create_server(("127.0.0.1", 0)) as bound:
        running = uvicorn.Server(uvicorn.Config(app, http=CountingProtocol, log_level="critical"))
        thread = threading.Thread(target=running.run, kwargs={"sockets": [bound]}, daemon=True)
        thread.start()
        while not running.started:
            time.sleep(0.01)
        yield bound.getsockname()[1]
        running.should_exit = True
        thread.join()


def upload(port: int, head: str, chunked: bool, size: int = UPLOAD) -> tuple[bytes, int]:
    """What is answered to an upload of 50 MB, and how much of it could be sent until the server had heard enough."""
    TAKEN.clear()
    piece = b"%x\r\n%b\r\n" % (len(PIECE), PIECE) if chunked else PIECE
    answer: list[bytes] = []
    with socket.create_connection(("127.0.0.1", port), timeout=20) as link:

        def listen() -> None:
            try:
                while heard := link.recv(65536):
                    answer.append(heard)
            except OSError:
                pass

        listening = threading.Thread(target=listen)
        listening.start()
        link.sendall(head.encode())
        sent = 0
        try:
            while sent < size:
                sent += link.send(piece)
            link.shutdown(socket.SHUT_WR)
        except OSError:  # the server has closed the line
            pass
        listening.join(20)
    return b"".join(answer), sent


@pytest.mark.parametrize("length", ["told", "not told"])
@pytest.mark.parametrize(
    ("method", "path", "kind"),
    [
        ("POST", "/api/parts", "application/json"),
        ("PUT", "/api/parts/small", "application/json"),
        ("POST", "/api/plans", "application/json"),
        ("POST", "/plan", "application/x-www-form-urlencoded"),
        ("POST", "/shelf/any/together", "application/x-www-form-urlencoded"),
    ],
)
def test_an_upload_that_is_far_too_large_is_refused_without_being_read_whole(
    port: int, method: str, path: str, kind: str, length: str
) -> None:
    how = f"Content-Length: {UPLOAD}" if length == "told" else "Transfer-Encoding: chunked"
    head = f'{method} {path} HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Type: {kind}\r\nIf-Match: "1"\r\n{how}\r\n\r\n'
    said, sent = upload(port, head, length != "told")
    assert sent < UPLOAD
    assert sum(TAKEN) < UNDER_WAY + (0 if length == "told" else LARGEST_BODY + HEARD_OUT)
    assert said.startswith(b"HTTP/1.1 413 ")
    assert b"it is larger than 1024 kB" in said


@pytest.mark.parametrize("length", ["told", "not told"])
def test_whoever_sends_a_little_too_much_can_send_it_all_and_read_why(port: int, length: str) -> None:
    """A browser shows the answer only where its upload was not broken off."""
    size = 32 * len(PIECE)
    how = f"Content-Length: {size}" if length == "told" else "Transfer-Encoding: chunked"
    head = f"POST /api/parts HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Type: application/json\r\n{how}\r\n\r\n"
    said, sent = upload(port, head, length != "told", size)
    assert sent >= size
    assert sum(TAKEN) >= size
    assert b"it is larger than 1024 kB" in said
