"""The gate: who may keep, how often one may ask, from whose page."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from ipaddress import ip_address
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from wheelwork.access.addresses import Asker
from wheelwork.access.gate import COOKIE, make_access
from wheelwork.app import make_app
from wheelwork.settings import Settings, read_networks

WORDS = "seven quiet cogs"
PLAN = {"plan": {"part": "turnstone-58", "name": "Skerry"}, "kept_by": "typed"}
BEARER = {"Authorization": f"Bearer {WORDS}"}
STRANGER, PROXY = ("192.0.2.9", 4711), ("10.1.0.5", 4711)

Make = Callable[..., TestClient]


@pytest.fixture
def asks(tmp_path: Path) -> Iterator[Make]:
    """Makes a server with a shelf of its own, and one who asks it."""
    opened: list[TestClient] = []

    def make(client: tuple[str, int] = STRANGER, **settings: Any) -> TestClient:
        app = opened[0].app if opened and not settings else make_app(Settings(data=tmp_path, **settings))
        made = TestClient(app, client=client, follow_redirects=False)
        opened.append(made)
        return made

    yield make
    for each in opened:
        each.close()


def keep(client: TestClient, **headers: str) -> Any:
    return client.post("/api/plans", json=PLAN, headers=headers)


def listed(client: TestClient) -> list[dict[str, Any]]:
    answer = client.get("/api/plans")
    assert answer.status_code == 200
    found: list[dict[str, Any]] = answer.json()
    return found


class TestOpen:
    """Without a passphrase and without a user's header."""

    def test_everyone_may_keep(self, asks: Make) -> None:
        client = asks()
        assert keep(client).status_code == 201
        assert [each["kept_by"] for each in listed(client)] == ["typed"]

    def test_a_passphrase_that_nobody_asks_for_is_left_alone(self, asks: Make) -> None:
        assert keep(asks(), Authorization="Bearer whatever").status_code == 201


class TestPassphrase:
    """Keeping takes the passphrase; reading is open."""

    def test_without_it_nothing_is_kept(self, asks: Make) -> None:
        client = asks(passphrase=WORDS)
        answer = keep(client)
        assert answer.status_code == 401
        assert answer.headers["WWW-Authenticate"].startswith("Bearer ")
        assert answer.json()["problems"][0]["what"] == "keeping here needs the passphrase"
        assert listed(client) == []

    def test_it_may_come_with_each_request(self, asks: Make) -> None:
        client = asks(passphrase=WORDS)
        assert keep(client, **BEARER).status_code == 201
        assert len(listed(client)) == 1

    def test_every_change_of_the_shelf_needs_it(self, asks: Make) -> None:
        client = asks(passphrase=WORDS)
        id = keep(client, **BEARER).json()["id"]
        for method, path in (("PUT", ""), ("POST", "/retire"), ("POST", "/bring-back")):
            answer = client.request(method, f"/api/plans/{id}{path}", json=PLAN, headers={"If-Match": '"1"'})
            assert answer.status_code == 401, path
        assert [(each["revision"], each["retired"]) for each in listed(client)] == [(1, False)]

    def test_what_writes_nothing_does_not_need_it(self, asks: Make) -> None:
        client = asks(passphrase=WORDS)
        assert client.post("/api/check", json={"plan": PLAN["plan"]}).status_code == 200
        assert client.get("/plan").status_code == 200

    def test_it_may_lie_in_a_file(self, asks: Make, tmp_path: Path) -> None:
        file = tmp_path / "word"
        file.write_text(f"{WORDS}\n")
        client = asks(passphrase_file=file)
        assert keep(client).status_code == 401
        assert keep(client, **BEARER).status_code == 201

    @pytest.mark.parametrize("kind", ["Basic c2V2ZW4=", "Bearer", "Bearer x", f"bearer {WORDS}x", "", "Digest a=b"])
    def test_another_is_no_leave(self, asks: Make, kind: str) -> None:
        assert keep(asks(passphrase=WORDS), Authorization=kind).status_code == 401

    def test_after_five_wrong_ones_none_is_looked_at(self, asks: Make) -> None:
        client = asks(passphrase=WORDS)
        wrong = [keep(client, Authorization=f"Bearer wrong {n}") for n in range(5)]
        assert [answer.status_code for answer in wrong] == [401] * 5
        assert wrong[0].json()["problems"][0]["what"] == "this is not the passphrase"
        answer = keep(client, **BEARER)
        assert answer.status_code == 429
        assert 1 <= int(answer.headers["Retry-After"]) <= 60
        assert keep(asks(client=("192.0.2.10", 1)), **BEARER).status_code == 201

    def test_many_guesses_at_once_are_counted_like_any_others(self) -> None:
        access = make_access(Settings(passphrase=WORDS))
        asker = Asker(ip_address("192.0.2.9"), False, "", "")

        def guess(number: int) -> int:
            refusal = asyncio.run(access.try_passphrase(f"guess {number}", asker))
            assert refusal is not None
            return refusal[1]

        with ThreadPoolExecutor(12) as pool:
            assert sorted(pool.map(guess, range(12))) == [401] * 5 + [429] * 7

    def test_who_guesses_behind_a_proxy_does_not_shut_out_the_others(self, asks: Make) -> None:
        client = asks(client=PROXY, passphrase=WORDS, trusted_proxies=read_networks("10.1.0.5"))
        for _ in range(6):
            last = keep(client, Authorization="Bearer wrong", **{"X-Forwarded-For": "198.51.100.7"})
        assert last.status_code == 429
        assert keep(client, **BEARER, **{"X-Forwarded-For": "198.51.100.8"}).status_code == 201

    def test_an_address_that_is_only_claimed_does_not_help_a_guesser(self, asks: Make) -> None:
        client = asks(passphrase=WORDS)
        for n in range(6):
            last = keep(client, Authorization="Bearer wrong", **{"X-Forwarded-For": f"198.51.100.{n}"})
        assert last.status_code == 429


class TestUser:
    """A user whom the lab's proxy names."""

    @pytest.fixture
    def settings(self) -> dict[str, Any]:
        return {"user_header": "X-Remote-User", "trusted_proxies": read_networks("10.1.0.0/24")}

    def test_a_named_user_keeps_under_that_name(self, asks: Make, settings: dict[str, Any]) -> None:
        client = asks(client=PROXY, **settings)
        assert keep(client, **{"X-Remote-User": "ada"}).status_code == 201
        assert [each["kept_by"] for each in listed(client)] == ["ada"]

    def test_from_any_other_address_the_name_is_a_claim(self, asks: Make, settings: dict[str, Any]) -> None:
        client = asks(client=STRANGER, **settings)
        answer = keep(client, **{"X-Remote-User": "ada", "X-Forwarded-For": "10.1.0.5"})
        assert answer.status_code == 403
        assert listed(client) == []

    def test_a_proxy_that_names_nobody_brings_nobody(self, asks: Make, settings: dict[str, Any]) -> None:
        assert keep(asks(client=PROXY, **settings)).status_code == 403

    def test_two_names_are_none(self, asks: Make, settings: dict[str, Any]) -> None:
        client = asks(client=PROXY, **settings)
        answer = client.post("/api/plans", json=PLAN, headers=[("X-Remote-User", "ada"), ("X-Remote-User", "root")])
        assert answer.status_code == 403

    def test_whom_the_proxy_names_is_asked_for_no_passphrase(self, asks: Make, settings: dict[str, Any]) -> None:
        client = asks(client=PROXY, passphrase=WORDS, **settings)
        assert keep(client, **{"X-Remote-User": "ada"}).status_code == 201
        assert keep(client).status_code == 401
        assert keep(client, **BEARER).status_code == 201

    def test_without_the_setting_the_header_means_nothing(self, asks: Make) -> None:
        client = asks(client=PROXY, trusted_proxies=read_networks("10.1.0.0/24"))
        assert keep(client, **{"X-Remote-User": "ada"}).status_code == 201
        assert [each["kept_by"] for each in listed(client)] == ["typed"]


class TestOrigin:
    """A page of someone else's changes nothing, whatever the browser would bring along."""

    def test_a_foreign_page_is_told_so(self, asks: Make) -> None:
        client = asks(passphrase=WORDS)
        answer = keep(client, Origin="https://elsewhere.example", **BEARER)
        assert answer.status_code == 403
        assert answer.json()["problems"][0]["where"] == "Origin"
        assert listed(client) == []

    def test_so_is_one_that_only_reckons(self, asks: Make) -> None:
        assert asks().post("/plan", data={}, headers={"Sec-Fetch-Site": "cross-site"}).status_code == 403

    def test_our_own_page_passes(self, asks: Make) -> None:
        assert keep(asks(), Origin="http://testserver").status_code == 201

    def test_the_name_that_a_proxy_is_known_by_is_ours(self, asks: Make) -> None:
        told = {"Origin": "https://clocks.lab", "X-Forwarded-Host": "clocks.lab", "X-Forwarded-Proto": "https"}
        assert keep(asks(client=PROXY, trusted_proxies=read_networks("10.1.0.5")), **told).status_code == 201
        assert keep(asks(client=STRANGER), **told).status_code == 403

    def test_a_page_is_told_in_a_page(self, asks: Make) -> None:
        answer = asks().post("/plan", headers={"Origin": "null", "Accept": "text/html"})
        assert answer.status_code == 403
        assert "<h1>This is not taken from there</h1>" in answer.text


def test_far_too_much_is_refused_as_that_whoever_sends_it(asks: Make) -> None:
    """A refusal at the gate alone would leave the server reading on to the end of the body."""
    client = asks(passphrase=WORDS, rate=1)
    headers = {"Origin": "https://elsewhere.example", "Authorization": "Bearer wrong", "Content-Length": str(10**9)}
    answers = [client.post("/api/plans", content=b"{}", headers=headers) for _ in range(3)]
    assert [(answer.status_code, answer.headers["Connection"]) for answer in answers] == [(413, "close")] * 3


class TestRate:
    """How often an address may ask."""

    def test_one_that_asks_too_often_is_told_when_to_come_back(self, asks: Make) -> None:
        client = asks(rate=3)
        answers = [client.get("/api/parts") for _ in range(4)]
        assert [answer.status_code for answer in answers] == [200, 200, 200, 429]
        assert 1 <= int(answers[3].headers["Retry-After"]) <= 20
        assert asks(client=("192.0.2.10", 1)).get("/api/parts").status_code == 200

    def test_style_sheets_and_what_machines_ask_are_not_counted(self, asks: Make) -> None:
        client = asks(rate=1)
        paths = ["/static/frame.css", "/healthz", "/readyz", "/metrics"] * 3
        assert [client.get(path).status_code for path in paths] == [200] * len(paths)

    @pytest.mark.parametrize("here", ["127.0.0.1", "::1", "testclient"])
    def test_this_machine_itself_is_not_counted(self, asks: Make, here: str) -> None:
        client = asks(client=(here, 1), rate=1)
        assert [client.get("/api/parts").status_code for _ in range(3)] == [200] * 3

    def test_whoever_stands_behind_a_proxy_of_this_machine_is(self, asks: Make) -> None:
        client = asks(client=("127.0.0.1", 1), rate=1, trusted_proxies=read_networks("127.0.0.1"))
        told = [client.get("/api/parts", headers={"X-Forwarded-For": f"198.51.100.{n}"}).status_code for n in (1, 1, 2)]
        assert told == [200, 429, 200]


class TestPass:
    """The form at /who, and the pass that it gives a browser."""

    def test_the_right_passphrase_gives_a_pass(self, asks: Make) -> None:
        client = asks(passphrase=WORDS)
        answer = client.post("/who", data={"passphrase": WORDS, "then": "/plan?plan=1.abc"})
        assert (answer.status_code, answer.headers["Location"]) == (303, "/plan?plan=1.abc")
        cookie = answer.headers["Set-Cookie"].lower()
        assert cookie.startswith(f"{COOKIE}=")
        assert {"httponly", "path=/", "samesite=lax", "max-age=2592000"} <= set(cookie.split("; "))
        assert "secure" not in cookie
        assert keep(client).status_code == 201

    def test_over_https_it_stays_there(self, asks: Make) -> None:
        client = asks(client=PROXY, passphrase=WORDS, trusted_proxies=read_networks("10.1.0.5"))
        answer = client.post("/who", data={"passphrase": WORDS}, headers={"X-Forwarded-Proto": "https"})
        assert "secure" in answer.headers["Set-Cookie"].lower().split("; ")

    def test_a_wrong_one_gives_none_and_is_said(self, asks: Make) -> None:
        client = asks(passphrase=WORDS)
        answer = client.post("/who", data={"passphrase": "wrong wrong", "then": "/plan"})
        assert answer.status_code == 401
        assert "This is not the passphrase" in answer.text
        assert 'value="/plan"' in answer.text
        assert "wrong wrong" not in answer.text
        assert "Set-Cookie" not in answer.headers
        assert keep(client).status_code == 401

    def test_the_form_is_throttled_together_with_the_rest(self, asks: Make) -> None:
        client = asks(passphrase=WORDS)
        for n in range(5):
            keep(client, Authorization=f"Bearer wrong {n}")
        answer = client.post("/who", data={"passphrase": WORDS})
        assert answer.status_code == 429
        assert int(answer.headers["Retry-After"]) >= 1

    def test_it_can_be_given_back(self, asks: Make) -> None:
        client = asks(passphrase=WORDS)
        client.post("/who", data={"passphrase": WORDS})
        assert "You may keep" in client.get("/who").text
        client.post("/who", data={"leave": "yes"})
        assert COOKIE not in client.cookies
        assert keep(client).status_code == 401

    def test_a_changed_passphrase_ends_it(self, asks: Make) -> None:
        client = asks(passphrase=WORDS)
        client.post("/who", data={"passphrase": WORDS})
        other = asks(passphrase="eight quiet cogs")
        other.cookies = client.cookies
        assert keep(other).status_code == 401

    @pytest.mark.parametrize(
        "then",
        ["https://evil.example", "//evil.example", "/\\evil.example", "javascript:alert(1)", "/a\r\nX: y", "", "/\t/e"],
    )
    def test_it_leads_nowhere_else(self, asks: Make, then: str) -> None:
        client = asks(passphrase=WORDS)
        assert client.post("/who", data={"passphrase": WORDS, "then": then}).headers["Location"] == "/"
        assert 'href="/"' in client.get("/who", params={"then": then}).text

    def test_a_page_that_may_not_keep_shows_the_form(self, asks: Make) -> None:
        client = asks(passphrase=WORDS)
        headers = {"Accept": "text/html", "Referer": "http://testserver/plan?plan=1.abc"}
        answer = client.post("/api/plans", json=PLAN, headers=headers)
        assert answer.status_code == 401
        assert 'type="password"' in answer.text
        assert 'name="then" value="/plan?plan=1.abc"' in answer.text

    def test_a_script_of_ours_is_led_to_the_form(self, asks: Make) -> None:
        client = asks(passphrase=WORDS)
        headers = {"HX-Request": "true", "HX-Current-URL": "http://testserver/plan?plan=1.abc"}
        answer = client.post("/api/plans", json=PLAN, headers=headers)
        assert answer.headers["HX-Redirect"] == "/who?then=%2Fplan%3Fplan%3D1.abc"

    def test_the_form_of_a_foreign_page_is_not_taken(self, asks: Make) -> None:
        client = asks(passphrase=WORDS)
        answer = client.post("/who", data={"passphrase": WORDS}, headers={"Origin": "https://elsewhere.example"})
        assert answer.status_code == 403
        assert "Set-Cookie" not in answer.headers


def test_the_page_says_how_keeping_stands(asks: Make) -> None:
    named = {"user_header": "X-Remote-User", "trusted_proxies": read_networks("10.1.0.5")}
    assert "Everyone may keep here" in asks(rate=0).get("/who").text
    assert "needs the passphrase" in asks(passphrase=WORDS).get("/who").text
    assert "You are &lt;ada&gt;" in asks(client=PROXY, **named).get("/who", headers={"X-Remote-User": "<ada>"}).text
    assert "whom the lab’s proxy names" in asks(**named).get("/who").text
