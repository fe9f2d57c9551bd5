"""The command `serve` as a lab runs it: stopped amid work, read by machines, behind a proxy, open to others."""

from __future__ import annotations

import http.client
import json
import signal
import subprocess
import sys
from typing import Any

import pytest

from tests.served import free_port, served, wait_for

PLAN = json.dumps({"plan": {"part": "turnstone-58", "name": "Skerry"}, "kept_by": "typed"}).encode()
AS_JSON = {"Content-Type": "application/json"}


def begin(connection: http.client.HTTPConnection, path: str = "/api/plans", body: bytes = PLAN) -> None:
    """Send a request up to the middle of its body."""
    connection.putrequest("POST", path)
    connection.putheader("Content-Type", "application/json")
    connection.putheader("Content-Length", str(len(body)))
    connection.endheaders(body[: len(body) // 2])


def ask(
    connection: http.client.HTTPConnection, method: str, path: str, body: bytes | None = None, **headers: str
) -> tuple[int, Any, str]:
    """One answer on a connection of its own: status, headers, body."""
    named = {name.replace("_", "-"): value for name, value in headers.items()}
    connection.request(method, path, body, {**AS_JSON, **named, "Connection": "close"})
    answer = connection.getresponse()
    return answer.status, answer.headers, answer.read().decode()


def told(said: str) -> list[dict[str, Any]]:
    """The lines of a log; each must be JSON."""
    return [json.loads(line) for line in said.splitlines()]


@pytest.mark.parametrize("workers", ["1", "2"])
def test_what_was_begun_is_finished_before_it_stops(workers: str) -> None:
    """The server has the first half of the body when it is told to stop; the second half comes after that."""
    with served("--workers", workers) as (process, connection):
        ask(connection, "GET", "/readyz")
        begin(connection)
        process.send_signal(signal.SIGTERM)
        while answers(connection.port):
            pass
        connection.send(PLAN[len(PLAN) // 2 :])
        answer = connection.getresponse()
        assert answer.status == 201
        assert json.loads(answer.read())["revision"] == 1
        _, said = process.communicate(timeout=30)
    assert process.returncode in (0, -signal.SIGTERM)
    assert "Traceback" not in said


def answers(port: int) -> bool:
    """Whether a new connection is still answered."""
    other = http.client.HTTPConnection("127.0.0.1", port, timeout=1)
    try:
        other.request("GET", "/healthz", headers={"Connection": "close"})
        return other.getresponse().status == 200
    except OSError:
        return False
    finally:
        other.close()


def test_what_never_ends_does_not_keep_it() -> None:
    with served() as (process, connection):
        ask(connection, "GET", "/readyz")
        begin(connection)
        process.send_signal(signal.SIGTERM)
        _, said = process.communicate(timeout=60)
    (line,) = [line for line in told(said) if line["message"] == "cut off by the server's end"]
    assert (line["level"], line["path"]) == ("warning", "/api/plans")
    assert "Traceback" not in said


def test_every_line_is_json_and_the_request_has_one() -> None:
    with served() as (process, connection):
        ask(connection, "GET", "/api/parts/no-such?plan=1.abc", X_Request_Id="7f3a")
        process.send_signal(signal.SIGTERM)
        _, said = process.communicate(timeout=30)
    (line,) = [line for line in told(said) if line.get("request") == "7f3a"]
    assert (line["method"], line["path"], line["status"]) == ("GET", "/api/parts/no-such", 404)
    assert "1.abc" not in said


def test_people_may_ask_for_text() -> None:
    with served(LOG_FORMAT="text") as (process, connection):
        ask(connection, "GET", "/api/parts", X_Request_Id="7f3a")
        process.send_signal(signal.SIGTERM)
        _, said = process.communicate(timeout=30)
    (line,) = [line for line in said.splitlines() if line.endswith("7f3a")]
    assert " info answered GET /api/parts 200 " in line


FAULTY = """
import sys, uvicorn
from pathlib import Path
from wheelwork.app import make_app
from wheelwork.settings import Settings
from wheelwork.watch.log import log_settings

settings = Settings(data=Path(sys.argv[2]), log_format="json")
app = make_app(settings)

@app.get("/fault")
def fault():
    raise RuntimeError("the wheel came off")

uvicorn.run(app, port=int(sys.argv[1]), log_config=log_settings(settings), access_log=False)
"""


def test_a_fault_is_told_once(tmp_path: Any) -> None:
    """The server beneath tells every exception that reaches it; this one has its line by then."""
    port = free_port()
    process = subprocess.Popen(
        [sys.executable, "-c", FAULTY, str(port), str(tmp_path)], stderr=subprocess.PIPE, text=True
    )
    wait_for(process, port)
    status, headers, body = ask(http.client.HTTPConnection("127.0.0.1", port), "GET", "/fault", X_Request_Id="7f3a")
    process.terminate()
    _, said = process.communicate(timeout=30)
    assert (status, headers["X-Request-Id"], "7f3a" in body) == (500, "7f3a", True)
    (line,) = [line for line in told(said) if "fault" in line]
    assert (line["request"], line["level"], line["status"]) == ("7f3a", "error", 500)
    assert "RuntimeError: the wheel came off" in line["fault"]


def test_the_figures_of_all_processes_are_one() -> None:
    """Each connection is taken by one process or the other; whichever is asked tells of all."""
    with served("--workers", "2") as (_, connection):
        for _ in range(20):
            assert ask(connection, "GET", "/api/parts")[0] == 200
        for _ in range(6):
            _, _, text = ask(connection, "GET", "/metrics")
            assert 'wheelwork_requests_total{method="GET",route="/api/parts",status="200"} 20.0' in text
            assert "wheelwork_shelf_up 1.0" in text


def test_only_our_own_setting_says_which_proxy_is_believed() -> None:
    """The server beneath would believe this machine and hide from us that the proxy is the one who speaks."""
    with served(USER_HEADER="X-Remote-User", TRUSTED_PROXIES="127.0.0.1") as (_, connection):
        headers = {"X_Remote_User": "ada", "X_Forwarded_For": "198.51.100.7"}
        assert ask(connection, "POST", "/api/plans", PLAN, **headers)[0] == 201
        assert json.loads(ask(connection, "GET", "/api/plans")[2])[0]["kept_by"] == "ada"


def test_every_process_knows_the_passphrase_and_its_pass() -> None:
    with served("--workers", "2", PASSPHRASE="seven quiet cogs") as (_, connection):
        form = {"Content_Type": "application/x-www-form-urlencoded"}
        status, headers, _ = ask(connection, "POST", "/who", b"passphrase=seven+quiet+cogs", **form)
        assert status == 303
        shown = headers["Set-Cookie"].partition(";")[0]
        assert [ask(connection, "POST", "/api/plans", PLAN, Cookie=shown)[0] for _ in range(8)] == [201] * 8
        assert ask(connection, "POST", "/api/plans", PLAN)[0] == 401


@pytest.mark.parametrize(
    ("host", "settings", "warned"),
    [
        ("0.0.0.0", {}, True),
        ("127.0.0.1", {}, False),
        ("localhost", {}, False),
        ("0.0.0.0", {"PASSPHRASE": "seven quiet cogs"}, False),
        ("0.0.0.0", {"USER_HEADER": "X-Remote-User", "TRUSTED_PROXIES": "10.1.0.5"}, False),
    ],
)
def test_being_open_to_others_is_said_loudly(host: str, settings: dict[str, str], warned: bool) -> None:
    with served("--host", host, **settings) as (process, connection):
        ask(connection, "GET", "/readyz")
        process.send_signal(signal.SIGTERM)
        _, said = process.communicate(timeout=30)
    cautions = [line["level"] for line in told(said) if line["message"].startswith("CAUTION")]
    assert cautions == (["warning"] if warned else [])


def test_a_passphrase_that_cannot_be_read_is_said_and_ends_it() -> None:
    line = [sys.executable, "-m", "wheelwork", "serve", "--port", str(free_port())]
    asked = subprocess.run(
        line, capture_output=True, text=True, check=False, timeout=60, env={"WHEELWORK_PASSPHRASE_FILE": "/no/such"}
    )
    assert asked.returncode == 2
    assert "WHEELWORK_PASSPHRASE_FILE: '/no/such' cannot be read" in asked.stderr
