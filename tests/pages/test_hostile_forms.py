"""Forms and addresses that no browser would send: each has an answer below 500, and nothing typed becomes markup."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from typing import Any
from urllib.parse import urlencode

import pytest
from fastapi.testclient import TestClient
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from wheelwork.pages.form import LARGEST_FORM, LONGEST_FIELD, MOST_FIELDS
from wheelwork.pages.rendering import _draw_plain_row, _draw_plain_setting
from wheelwork.plan.permalink import write_permalink

AS_FORM = {"content-type": "application/x-www-form-urlencoded"}
MARKUP = '"\'><i-typed onmouseover="typed()">'
PLAN = write_permalink({"part": "turnstone-58", "in_use": ["processor"], "set": {"core": 2}})
LARGE = write_permalink({"part": "dunlin-192"})

bounded = settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])


class Reader(HTMLParser):
    """Reads a page and gathers what came of the markup that was typed."""

    def __init__(self) -> None:
        super().__init__()
        self.typed: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.typed += [tag for _ in range(tag == "i-typed")]
        self.typed += [name for name, _ in attrs if name.startswith("on") or "typed" in name]


def assert_answered(answer: Any) -> None:
    """An answer that is none of a fault of ours, and in which what was typed is text."""
    assert answer.status_code < 500
    assert "Traceback" not in answer.text
    if answer.headers.get("content-type", "").startswith("text/html"):
        reader = Reader()
        reader.feed(answer.text)
        assert reader.typed == []


def post(client: TestClient, fields: dict[str, str] | list[tuple[str, str]], fragment: bool = False) -> Any:
    headers = {**AS_FORM, "hx-request": "true"} if fragment else AS_FORM
    return client.post("/plan", content=urlencode(fields), headers=headers)


words = st.sampled_from(
    [
        MARKUP, "", " ", "\x00", "\u202etxet", "{{ 7 * 7 }}", "2", "3/2", "-1", "1e400", "9" * 400, "8 MHz", "0 MHz",
        "±20 ppm", "-20 to 50 °C", "3 V", "core", "core_source", "main", "main.feedback", "crystal", "yes", "no",
        "full", "turnstone-58", "whimbrel-132", "nowhere", "set.core=3;core_voltage=low", "set.core",
        "=;=;set.=", PLAN, LARGE, "1.eJx", "1.", "9.abc", "2", "x" * 3000,
    ]
)  # fmt: skip
texts = words | st.text(max_size=40)
keys = st.sampled_from(
    ["core", "core_source", "main", "main.feedback", "crystal", "fast_rc", "usb_link", "a.b.c", "", "."]
)
heads = st.sampled_from(["set.", "use.", "keep.", "board.", "wish.", "held.", "in_use.", ""])
plain = st.sampled_from(
    [
        "plan", "opened", "before", "open", "toggle", "mend", "ask", "part", "name", "owner", "board_name", "supply",
        "board_revision", "temperature", "core_voltage", "wait_states",
    ]
)  # fmt: skip
dotted = st.builds("{}{}{}".format, heads, keys | texts, st.sampled_from(["", ".", ".frequency", ".tolerance", ".x"]))
names = plain | dotted | texts


@bounded
@given(st.lists(st.tuples(names, texts), max_size=8), st.booleans())
@example([("set.core", "2"), ("set.core.x", "3")], False)
@example([("set.main", "2"), ("set.main.feedback", "3")], False)
@example([("set.core.x", MARKUP), (f"set.{MARKUP}", "1"), (MARKUP, MARKUP)], True)
@example([("opened", LARGE), ("before", MARKUP), ("set.core", "3")], False)
@example([("open", "core main.feedback"), ("wish.core", MARKUP), ("toggle", MARKUP)], False)
def test_no_form_ends_in_a_server_fault(client: TestClient, fields: list[tuple[str, str]], fragment: bool) -> None:
    assert_answered(post(client, [("plan", PLAN), *fields], fragment))


@bounded
@given(st.binary(max_size=200), st.booleans())
@example(b"plan=%", False)
@example(b"plan=%ff%fe&=&&;%00=%00", True)
@example(b"plan=\xff\xfe", False)
def test_no_bytes_end_in_a_server_fault(client: TestClient, body: bytes, with_plan: bool) -> None:
    start = f"plan={PLAN}&".encode() if with_plan else b""
    assert_answered(client.post("/plan", content=start + body, headers=AS_FORM))


@bounded
@given(st.lists(st.tuples(st.sampled_from(["plan", "part", "x"]), texts), max_size=3))
@example([("plan", "1." + "%" * 3000)])
@example([("part", MARKUP)])
@example([("plan", MARKUP)])
def test_no_address_ends_in_a_server_fault(client: TestClient, query: list[tuple[str, str]]) -> None:
    assert_answered(client.get("/plan?" + urlencode(query)))


@pytest.mark.parametrize(
    "query", ["plan=%ff%fe", "plan=%00", "part=%ed%a0%80", "plan=%%%&part", "&&=", "plan=1.&plan=2."]
)
def test_no_broken_address_ends_in_a_server_fault(client: TestClient, query: str) -> None:
    assert_answered(client.get(f"/plan?{query}"))


values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | words | st.text(st.characters(), max_size=20),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=8) | keys, inner, max_size=4),
    max_leaves=12,
)
plan_keys = st.sampled_from(
    [
        "name", "owner", "board", "board_name", "set", "in_use", "held", "keep_running", "core_voltage", "wait_states",
        "supply", "temperature", "target", "link", "phase", "battery", "format",
    ]
)  # fmt: skip


@bounded
@given(st.sampled_from(["turnstone-58", "turnstone-59", MARKUP]), st.dictionaries(plan_keys, values, max_size=4))
@example("turnstone-58", {"battery": {"cell": "\ud800"}})
@example("turnstone-58", {"link": [{"\ud800": [MARKUP]}], "name": MARKUP})
@example("turnstone-59", {"name": "\ud800", "set": {MARKUP: MARKUP}, "board": {"\udfff": 1}})
@example("gone", {"battery": {"cell": float("nan")}, MARKUP: [MARKUP]})
def test_no_plan_in_an_address_ends_in_a_server_fault(client: TestClient, part: str, plan: dict[str, Any]) -> None:
    link = write_permalink({**plan, "part": part})
    assert_answered(client.get("/plan", params={"plan": link}))
    assert_answered(post(client, {"plan": link, "set.core": "2"}))
    assert_answered(post(client, {"plan": PLAN, "opened": link, "before": link, "set.core": "2"}, fragment=True))


def plan_in(answer: Any) -> str:
    """The plan that a page's form carries."""
    return str(re.findall(r'name="plan" value="([^"]+)"', answer.text)[0])


def problems_in(answer: Any) -> list[str]:
    """The problems that a page tells, as text."""
    found = re.search(r'<ul class="problems">(.*?)</ul>', answer.text, re.S)
    return re.findall(r"<li>(.*?)</li>", found[1], re.S) if found else []


FIELDS = [
    "plan",
    "opened",
    "before",
    "open",
    "toggle",
    "mend",
    "ask",
    "part",
    "name",
    "supply",
    "set.core",
    "wish.core",
    "x",
]


@pytest.mark.parametrize("sign", ["x", "%", "%ff", "+", "é"])
@pytest.mark.parametrize("name", FIELDS)
def test_a_field_of_a_million_signs_is_refused_by_its_name(client: TestClient, name: str, sign: str) -> None:
    body = f"plan={PLAN}&set.slow_bus=2&{name}=".encode() + sign.encode() * (1_000_000 // len(sign.encode()))
    answer = client.post("/plan", content=body, headers=AS_FORM)
    assert answer.status_code == 413
    assert name in problems_in(answer)[0]
    assert f"at most {LONGEST_FIELD} are read" in problems_in(answer)[0]


@pytest.mark.parametrize(
    ("body", "what"),
    [
        (b"&".join(b"a%d=" % i for i in range(MOST_FIELDS + 1)), f"it has {MOST_FIELDS + 1} fields"),
        (b"&" * 1_000_000, "it has 1000001 fields"),
        (b"&".join(b"a%d=%s" % (i, b"%" * 30_000) for i in range(20)), "bytes long"),
    ],
    ids=["fields", "empty fields", "bytes"],
)
def test_a_form_that_is_too_much_is_refused(client: TestClient, body: bytes, what: str) -> None:
    answer = client.post("/plan", content=body, headers=AS_FORM)
    assert answer.status_code == 413
    assert what in problems_in(answer)[0]


def test_a_form_at_its_limits_is_read(client: TestClient) -> None:
    fields = {"plan": PLAN, "opened": PLAN} | {f"x{i}": "" for i in range(MOST_FIELDS - 2)}
    assert post(client, fields).status_code == 200
    long = {"plan": PLAN} | {f"x{i}": "y" * (LONGEST_FIELD - 10) for i in range(LARGEST_FORM // LONGEST_FIELD - 1)}
    assert post(client, long).status_code == 200


@pytest.mark.parametrize("head", ["set.", "use.", "keep.", "board.", "wish.", "set.main.", ""])
def test_thousands_of_fields_that_are_none_change_nothing(client: TestClient, head: str) -> None:
    more = ".frequency" if head == "board." else ""
    answer = post(client, {"plan": PLAN} | {f"{head}nowhere{i}{more}": "yes" for i in range(3000)})
    assert answer.status_code == 200
    assert plan_in(answer) == plan_in(post(client, {"plan": PLAN}))


@pytest.mark.parametrize("kind", ["multipart/form-data; boundary=x", "application/json", "text/plain", "", "*/*"])
def test_a_form_of_another_kind_is_told_how_to_be_sent(client: TestClient, kind: str) -> None:
    answer = client.post("/plan", content=f"plan={PLAN}", headers={"content-type": kind})
    assert answer.status_code == 415
    assert "send it as application/x-www-form-urlencoded" in problems_in(answer)[0]


def test_the_kind_of_a_form_may_name_its_characters(client: TestClient) -> None:
    kind = "Application/X-WWW-Form-Urlencoded; charset=UTF-8"
    assert client.post("/plan", content=f"plan={PLAN}", headers={"content-type": kind}).status_code == 200


def test_a_part_of_a_setting_that_has_none_is_told_at_its_field(client: TestClient) -> None:
    answer = post(client, {"plan": PLAN, "set.core": "3", "set.core.x": "4", "set.main": "5"})
    assert answer.status_code == 200
    assert "Core clock has no part settings" in answer.text
    assert "is no table" in answer.text
    assert re.search(r'name="set.core"[^>]* value="3"', answer.text)


def test_nothing_typed_is_kept_beyond_its_answer(client: TestClient) -> None:
    """Rows are drawn once and kept; a row that holds what was typed would be kept for nobody, a kilobyte each."""
    post(client, {"plan": PLAN, "set.core": "none"})
    kept = [store.cache_info().currsize for store in (_draw_plain_setting, _draw_plain_row)]
    for number in range(20):
        assert post(client, {"plan": PLAN, "set.core": "y" * 1000 + str(number)}).status_code == 200
    assert [store.cache_info().currsize for store in (_draw_plain_setting, _draw_plain_row)] == kept
