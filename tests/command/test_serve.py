"""The command `serve` as a process of its own: one worker or several, stopped as one stops it."""

from __future__ import annotations

import http.client
import json
import signal
import socket
import subprocess
import sys
import time
from contextlib import closing
from statistics import median

import pytest

from tests.served import served
from wheelwork.command.serve import APP, PromptConfig

SLOWEST = 0.030  # Nagle's wait together with the delayed acknowledgement is 40 ms (Linux, TCP_DELACK_MIN)


def ask(connection: http.client.HTTPConnection) -> float:
    """The seconds that one answer takes on a kept connection."""
    began = time.perf_counter()
    connection.request("GET", "/healthz")
    answer = connection.getresponse()
    body = answer.read()
    assert (answer.status, b"alive" in body) == (200, True)
    return time.perf_counter() - began


@pytest.mark.parametrize("workers", ["1", "2"])
def test_answers_on_a_kept_connection_do_not_wait(workers: str) -> None:
    with served("--workers", workers) as (_, connection):
        assert median(ask(connection) for _ in range(15)) < SLOWEST


def test_a_search_is_found_whichever_process_is_asked() -> None:
    """Each connection is taken by one process or the other; both know the search and its answer."""
    plan = {"part": "turnstone-58", "in_use": ["processor"]}
    body = json.dumps({"plan": plan}).encode()
    with served("--workers", "2") as (_, connection):
        headers = {"Content-Type": "application/json", "Prefer": "wait=0", "Connection": "close"}
        connection.request("POST", "/api/find", body, headers)
        asked = connection.getresponse()
        asked.read()
        assert asked.status == 202
        address = asked.headers["Location"]
        for _ in range(30):
            connection.request("GET", address, headers={"Connection": "close"})
            answer = connection.getresponse()
            told = json.loads(answer.read())
            assert answer.status in (200, 202), told
        connection.request("GET", address, headers={"Connection": "close", "Prefer": "wait=60"})
        answer = connection.getresponse()
        assert (answer.status, json.loads(answer.read())["fits"]) == (200, True)


def test_what_is_accepted_from_the_shared_socket_sends_at_once() -> None:
    with closing(PromptConfig(APP, factory=True, port=0, log_level="warning").bind_socket()) as bound:
        bound.listen()
        with closing(socket.create_connection(bound.getsockname())), closing(bound.accept()[0]) as accepted:
            assert accepted.getsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY)


@pytest.mark.parametrize("workers", ["1", "2"])
def test_an_interrupt_ends_it_without_a_traceback(workers: str) -> None:
    with served("--workers", workers) as (process, connection):
        ask(connection)
        process.send_signal(signal.SIGINT)
        _, said = process.communicate(timeout=30)
    assert process.returncode == 0
    assert "Traceback" not in said


@pytest.mark.parametrize(
    ("option", "value", "says"),
    [
        ("--port", "65536", "--port: 65536 is not offered; write 0 to 65535"),
        ("--workers", "0", "--workers: 0 is not offered; write 1 to 64"),
        ("--port", "eighty", "invalid int value: 'eighty'"),
    ],
)
def test_an_option_that_cannot_be_taken_is_refused_with_what_can(option: str, value: str, says: str) -> None:
    line = [sys.executable, "-m", "wheelwork", "serve", option, value]
    asked = subprocess.run(line, capture_output=True, text=True, check=False, timeout=60)
    assert asked.returncode == 2
    assert says in asked.stderr


def test_a_port_in_use_is_said_and_ends_it() -> None:
    with closing(socket.create_server(("127.0.0.1", 0))) as taken:
        line = [sys.executable, "-m", "wheelwork", "serve", "--port", str(taken.getsockname()[1])]
        asked = subprocess.run(line, capture_output=True, text=True, check=False, timeout=60)
    assert asked.returncode not in (0, 2)
    assert "address already in use" in asked.stderr
    assert "Traceback" not in asked.stderr
