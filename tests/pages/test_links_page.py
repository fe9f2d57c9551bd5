"""The Links page by plain post: what it shows, and what each of its buttons does."""

from __future__ import annotations

import re
from html import unescape
from typing import Any
from urllib.parse import parse_qs, urlsplit

import pytest
from fastapi.testclient import TestClient

from tests.pages.boards import PART, RADIO, SLOW, TIDE, TOO_FAST, address_of, link_of, plan_with
from wheelwork.pages.links_words import name_settings
from wheelwork.plan.permalink import read_permalink
from wheelwork.plan.plan import Plan

FOUR = plan_with(TIDE, RADIO, SLOW, TOO_FAST)


def text_of(html: str) -> str:
    """The words of a page, spaces made plain."""
    plain = unescape(re.sub(r"<[^>]+>", " ", html)).replace("\u2009", " ").replace("\u00a0", " ")
    return re.sub(r"\s+", " ", plain)


def row_of(html: str, place: int) -> str:
    """One row with what is open below it."""
    start = html.index(f'id="link-{place}"')
    ends = [end for end in (html.find('<div class="link ', start), html.find("</section>", start)) if end > 0]
    return html[start : min(ends)]


def field_of(html: str, name: str) -> str:
    """The value of a hidden field."""
    found = re.search(rf'name="{name}" value="([^"]*)"', html)
    assert found is not None
    return unescape(found[1])


def raw_in(html: str) -> dict[str, Any]:
    """The plan that the page carries."""
    raw, problems = read_permalink(field_of(html, "plan"))
    assert raw is not None, problems
    return raw


def post(client: TestClient, plan: Plan, **fields: str) -> str:
    """The page after a post of some fields; `link_0_rate` stands for `link.0.rate`."""
    named = {re.sub(r"^link_(\w+?)_", r"link.\1.", name): text for name, text in fields.items()}
    answer = client.post("/links", data={"plan": link_of(plan), "opened": "", "before": "", **named})
    assert answer.status_code == 200
    return answer.text


def test_the_page_says_in_a_sentence_how_many_links_keep_their_rate(client: TestClient) -> None:
    page = text_of(client.get(address_of(FOUR)).text)
    assert "2 of 4 links keep their rate" in page
    assert "plus the oscillator’s tolerance, over −20 to 50 °C." in page
    assert "All 2 links keep their rate" in text_of(client.get(address_of(plan_with(TIDE, RADIO))).text)
    assert "The one link keeps its rate" in text_of(client.get(address_of(plan_with(TIDE))).text)


def test_links_stand_under_the_clock_they_hang_on(client: TestClient) -> None:
    assert "From slow bus, 29 MHz ±30 ppm" in text_of(client.get(address_of(FOUR)).text)


def test_a_row_shows_wanted_divisor_rate_error_and_share(client: TestClient) -> None:
    """29 MHz / (16 * 188 13/16) = 9599.47036… Bd: 55.2 ppm slow, 85.2 with the clock's 30."""
    row = text_of(row_of(client.get(address_of(FOUR)).text, 0))
    for words in ("Tide sensor", "9600 Bd", "÷ 188 13/16", "16 samples a bit", "9599.470… Bd", "−55.2 ppm"):
        assert words in row
    assert "−85.2 ppm with tolerance uses under 1 % of the allowance allowed ±2 %" in row


def test_the_picture_of_a_link_speaks(client: TestClient) -> None:
    row = row_of(client.get(address_of(FOUR)).text, 2)
    spoken = re.search(r'role="img" aria-label="([^"]+)"', row)
    assert spoken is not None
    assert text_of(spoken[1]) == "Slow modem: error −4.65 %, allowed ±2 %, slow by 4.65 %"


def test_a_row_opens_and_closes_in_place(client: TestClient) -> None:
    opened = post(client, FOUR, toggle="1")
    assert 'id="f-link.1.rate"' in opened
    assert 'id="f-link.0.rate"' not in opened
    assert field_of(opened, "open") == "1"
    both = post(client, FOUR, open="1", toggle="0")
    assert field_of(both, "open") == "1 0"
    assert field_of(post(client, FOUR, open="1", toggle="1"), "open") == ""


def test_an_open_row_shows_the_nearest_divisors_each_with_its_verdict(client: TestClient) -> None:
    """Of 29 MHz for 921 600 Bd with 16 samples 1 15/16 is 1.51 % fast; with 8 samples 3 15/16 is 0.105 % slow."""
    row = text_of(row_of(client.get(address_of(FOUR, 1)).text, 1))
    assert "Divisors that come nearest" in row
    assert re.search(r"÷ 3 15/16 8 samples a bit 920 634\.920… Bd −0\.105 % uses 5 %", row)
    assert re.search(r"÷ 1 15/16 16 samples a bit 935 483\.870… Bd \+1\.51 % uses 75 %", row)


def test_the_plans_own_divisor_is_ticked_or_that_the_nearest_always_counts(client: TestClient) -> None:
    own = name_settings(RADIO["chosen"])
    page = unescape(row_of(client.get(address_of(FOUR, 1)).text, 1))
    assert re.search(rf'value="{re.escape(own)}" checked', page)
    assert 'value="nearest" checked' in row_of(client.get(address_of(FOUR, 0)).text, 0)


def test_the_error_of_a_row_can_be_found_by_hand(client: TestClient) -> None:
    row = text_of(row_of(client.get(address_of(FOUR, 1)).text, 1))
    for step in (
        "rate = clock oversampling × divisor = 29 MHz 16 × 2 = 906 250.000 Bd",
        "error = rate wanted − 1 = 906 250.000 Bd 921 600.000 Bd − 1 = −1.67 %",
        "at worst = ( 1 + error ) × ( 1 + tolerance ) − 1 = ( 1 + ( −1.67 % ) ) × ( 1 + ( −30 ppm ) ) − 1 = −1.67 %",
        "share = error allowance = −1.67 % −2 % = 83.4 %",
    ):
        assert step in row


def test_a_figure_that_a_standards_line_tells_is_not_told_again(client: TestClient) -> None:
    musical = {key: value for key, value in TIDE.items() if key not in ("rate", "allowance")} | {
        "standard": "midi",
        "name": "Keys",
    }
    page = text_of(client.get(address_of(plan_with(musical, TIDE), 0, 1)).text)
    assert "8 data bits, no parity, 1 stop bit. Source: IEC 63035:2017 (MIDI 1.0), clause 4.1." in page
    assert "Allowance ±1 %" not in page
    assert "Allowance ±2 %: the link's own." in page


def test_a_choice_is_kept_in_the_plan_and_in_the_address(client: TestClient) -> None:
    chosen = {"oversampling": 8, "divisor": "63/16"}
    page = post(client, FOUR, open="1", link_1_choice=name_settings(chosen))
    assert raw_in(page)["link"][1]["chosen"] == chosen
    copied = re.search(r'id="copy" href="([^"]+)"', page)
    assert copied is not None
    carried, _ = read_permalink(parse_qs(urlsplit(unescape(copied[1])).query)["plan"][0])
    assert carried is not None
    assert carried["link"][1]["chosen"] == chosen
    assert "uses 5 % of the allowance" in text_of(row_of(page, 1))


def test_a_change_can_be_taken_back(client: TestClient) -> None:
    page = post(client, FOUR, open="1", link_1_rate="460800 Bd")
    assert "1 change since it was opened" in text_of(page) or "not on the shelf" in text_of(page)
    before = field_of(page, "before")
    assert before == link_of(FOUR)
    back = client.post("/links", data={"plan": field_of(page, "plan"), "before": before, "back": "yes"}).text
    assert raw_in(back) == raw_in(client.get(address_of(FOUR)).text)
    assert "Taken back." in back


def test_what_cannot_be_taken_is_told_at_its_field_and_the_plan_stays(client: TestClient) -> None:
    page = post(client, FOUR, open="1", link_1_rate="921600")
    assert raw_in(page)["link"][1]["rate"] == "921600 Bd"
    assert 'value="921600" ' in row_of(page, 1)
    assert 'aria-invalid="true" aria-describedby="w-link.1.rate"' in page
    assert "The plan still shows 921600 Bd." in text_of(page)


def test_a_standard_that_brings_its_rate_says_so(client: TestClient) -> None:
    page = post(client, FOUR, open="0", link_0_from="standard:midi", link_0_rate="9600 Bd", link_0_frame="8N1")
    said = re.search(r'id="said"[^>]*>([^<]*)<', page)
    assert said is not None
    assert text_of(said[1]).startswith(
        "Wanted rate is now 31 250 Bd, by MIDI 1.0, and no longer 9600 Bd. Tide sensor: "
    )
    assert re.search(r'name="link\.0\.rate"[^>]* value="31250 Bd"', page)
    assert 'aria-invalid="true"' not in page


def test_an_empty_field_shows_what_the_standard_fixes(client: TestClient) -> None:
    lights = {"name": "Lights", "load": "serial_port", "family": "uart", "standard": "dmx512"}
    page = client.get(address_of(plan_with(lights), 0)).text
    for key, text in (("rate", "250000 Bd"), ("frame", "8N2")):
        assert re.search(rf'name="link\.0\.{key}"[^>]* placeholder="{text}"', page)


def test_a_link_is_added_in_two_steps_and_opened(client: TestClient) -> None:
    begun = post(client, FOUR, add="yes")
    assert 'id="f-link.new.on"' in begun
    begun = post(client, FOUR, link_new_on="serial_port/uart")
    assert 'id="f-link.new.rate"' in begun
    assert "It joins the list once it says what is wanted: a rate such as" in text_of(begun).replace("write ", "")
    on = re.search(r'<option value="([^"]+/uart)"', begun)
    assert on is not None
    page = post(client, FOUR, link_new_on=on[1], link_new_name="Console", link_new_rate="115200 Bd")
    assert raw_in(page)["link"][4] == {
        "name": "Console",
        "load": "serial_port",
        "family": "uart",
        "rate": "115200 Bd",
    }
    assert 'id="f-link.4.rate"' in page
    assert 'id="f-link.new.rate"' not in page


def test_a_link_half_typed_stays_and_can_be_left(client: TestClient) -> None:
    page = post(client, FOUR, link_new_on="serial_port/uart", link_new_name="Console")
    assert 'value="Console"' in page
    assert len(raw_in(page)["link"]) == 4
    left = post(client, FOUR, link_new_on="serial_port/uart", link_new_name="Console", leave="yes")
    assert 'value="Console"' not in left


def test_a_link_is_taken_out_and_those_below_stay_open(client: TestClient) -> None:
    page = post(client, FOUR, open="0 2", drop="0")
    assert [link["name"] for link in raw_in(page)["link"]] == ["Radio modem", "Slow modem", "Far too fast"]
    assert field_of(page, "open") == "1"


def test_a_finding_tells_by_how_much_and_the_nearest_mends_it(client: TestClient) -> None:
    page = client.get(address_of(FOUR)).text
    findings = text_of(page[page.index('id="link-findings"') :])
    assert "Slow modem is slow by 4.65 %." in findings
    assert "Far too fast cannot be met: the nearest is slow by 2.52 %." in findings
    assert re.findall(r'name="nearest" value="(\d)"', page) == ["2"]
    mended = post(client, FOUR, nearest="2")
    assert "chosen" not in raw_in(mended)["link"][2]
    assert "3 of 4 links keep their rate" in text_of(mended)


def test_a_failing_link_has_the_nearest_change_of_one_setting_as_its_mend(client: TestClient) -> None:
    """8 MHz * 28 / 4 / 2 = 28 MHz = 8 * 1 * 3.5 MBd: the PLL at 28 makes the rate exactly, and harms nothing."""
    page = client.get(address_of(plan_with(TOO_FAST))).text
    button = re.search(r'name="mend" value="([^"]+)" id="link-mend-1">([^<]+)<', page)
    assert button is not None
    assert text_of(button[2]) == "Set 2.2 to ×28"
    assert "gives 3 500 000.000 Bd, uses under 1 % of the allowance." in text_of(page)
    mended = post(client, plan_with(TOO_FAST), mend=unescape(button[1]))
    assert "The one link keeps its rate" in text_of(mended)
    assert raw_in(mended)["set"]["main"]["feedback"] == 28


def test_a_wanted_clock_is_handed_to_the_search(client: TestClient) -> None:
    """÷ 1 1/16 of 8 samples makes 3.5 MBd from 3.5 * 8 * 17 / 16 = 29.75 MHz; 2 % less 30 ppm remain for the clock."""
    answer = client.post("/links", data={"plan": link_of(FOUR), "target": "3"}, follow_redirects=False)
    assert answer.status_code == 303
    address = urlsplit(answer.headers["location"])
    assert address.path == "/targets"
    raw, _ = read_permalink(parse_qs(address.query)["plan"][0])
    assert raw is not None
    target = raw["target"][-1]
    assert (target["node"], target["frequency"]) == ("serial_port", "29.75 MHz")
    assert target["within"].endswith(" %")
    assert "29.75 MHz" in client.get(answer.headers["location"]).text


def test_a_plan_without_links_says_what_to_do(client: TestClient) -> None:
    page = client.get(address_of(plan_with())).text
    assert "No link yet" in page
    assert "Name the rates that this board needs" in page
    assert 'class="main-act" name="add"' in page


def test_a_link_whose_load_is_idle_is_not_judged(client: TestClient) -> None:
    from dataclasses import replace

    idle = replace(FOUR, in_use=tuple(name for name in FOUR.in_use if name != "serial_port"))
    page = text_of(client.get(address_of(idle)).text)
    assert "No link is judged" in page
    assert "4 are not judged: their loads are not in use." in page
    assert "Not running" in page


def test_htmx_gets_what_stands_in_the_form_with_its_address(client: TestClient) -> None:
    data = {"plan": link_of(FOUR), "open": "1", "link.1.rate": "460800 Bd"}
    answer = client.post("/links", data=data, headers={"HX-Request": "true"})
    assert "<html" not in answer.text
    assert answer.headers["HX-Replace-Url"].startswith("/links?plan=")
    said = re.search(r'id="said"[^>]*>([^<]+)<', answer.text)
    assert said is not None
    assert text_of(said[1]).startswith("Radio modem: ")
    assert said[1].endswith("links keep their rate.")


def test_htmx_is_led_to_the_search(client: TestClient) -> None:
    answer = client.post("/links", data={"plan": link_of(FOUR), "target": "3"}, headers={"HX-Request": "true"})
    assert answer.status_code == 204
    assert answer.headers["HX-Redirect"].startswith("/targets?plan=")


def test_the_sum_line_stands_below_and_its_mend_acts_here(client: TestClient) -> None:
    page = client.get(address_of(FOUR)).text
    act = re.search(r'name="mend" value="([^"]+)" id="sum-mend"', page)
    assert act is not None
    mended = post(client, FOUR, mend=unescape(act[1]))
    assert "10 of 10" in text_of(mended)
    assert raw_in(mended)["link"] == raw_in(page)["link"]


def test_links_is_the_third_page(client: TestClient) -> None:
    page = client.get(address_of(FOUR)).text
    named = re.findall(r"<a href=\"[^\"]*\"[^>]*>(\w+)</a>", page[page.index('class="pages"') :])
    assert named[:3] == ["Plan", "Targets", "Links"]
    assert re.search(r'aria-current="page">Links<', page)


def test_the_first_visit_shows_the_links_of_the_demo(client: TestClient) -> None:
    assert client.get("/links").url.query.startswith(b"plan=")


@pytest.mark.parametrize(
    "fields",
    [
        {"open": "9 x -1 0"},
        {"toggle": "99"},
        {"drop": "-1"},
        {"drop": "999999999999"},
        {"nearest": "7"},
        {"target": "7"},
        {"target": "0; drop"},
        {"link.0.choice": "[" * 5000},
        {"link.0.choice": "null"},
        {"link.0.choice": '{"divisor": 1e400}'},
        {"link.0.from": "standard:"},
        {"link.0.from": "elsewhere"},
        {"link.0.on": ""},
        {"link.0.load": "x"},
        {"link.0.chosen": "x"},
        {"link.0.family": "x"},
        {"link.9.rate": "1 Bd"},
        {"link.new.on": "/"},
        {"link.new.rate": "1 Bd"},
        {"link.0.name": "\u0000" * 10},
        {"link.0.rate": "9" * 3000},
        {"back": "yes", "before": "1.zzzz"},
        {"mend": "set.nothing=1"},
    ],
)
def test_whatever_is_posted_is_answered_with_a_page(client: TestClient, fields: dict[str, str]) -> None:
    answer = client.post("/links", data={"plan": link_of(FOUR), **fields}, follow_redirects=False)
    assert answer.status_code in (200, 303, 400)
    assert "Traceback" not in answer.text


def test_a_form_that_lost_its_plan_is_told_so(client: TestClient) -> None:
    assert client.post("/links", data={"plan": "1.broken"}).status_code == 400
    assert client.get("/links?plan=1.broken").status_code == 400


def test_the_part_of_these_tests_is_the_demos() -> None:
    assert PART.name == "Turnstone 58"
