"""Published reference clocks: USB, Ethernet, radios, buses and video, row by row."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest

from tests.links.published import agrees, each_row, entry, exact, no_check, printed
from tests.links.test_dividing import PPM, answer, feed
from wheelwork.links.clock_standards import STANDARDS
from wheelwork.links.time_keeping import listening_widened

BY_NAME = {each.name: each for each in STANDARDS}
OF_FOUR = {
    "full speed, full-speed-only function": "usb-full-speed",
    "full speed, host, hub or high-speed-capable function": "usb-full-speed-host",
    "low speed, function": "usb-low-speed",
    "low speed, host or hub": "usb-low-speed-host",
}
ROLES = {"full-speed function": "usb-full-speed", "host": "usb-full-speed-host", "low-speed function": "usb-low-speed"}
TRANSMITTERS = {
    "10/100 and 10/100/1000BASE-T transmitter reference": "ethernet-transmitter",
    "each node's reference": "ethernet-node",
    "10BASE-T1S (clause 147) transmitter clock": "ethernet-10base-t1s",
    "100BASE-X code-bit timer, 125 MBd": "ethernet-100base-x",
    "1000BASE-T symbol rate, 125 MBd": "ethernet-1000base-t",
    "100BASE-T1 symbol rate, 66.666 MBd": "ethernet-100base-t1",
    "RGMII clock 125 MHz": "ethernet-rgmii",
}
no_check("gps.pps", "what receivers say of their pulse's edge; no clock of a board is held against it")


def half_width(name: str) -> Fraction:
    """How far a clock may be off to either side, as a share."""
    allowance = BY_NAME[name].allowance
    assert allowance is not None
    assert allowance.highest is not None
    assert allowance.lowest == -allowance.highest
    return allowance.highest


def rate_of(name: str) -> Fraction:
    rate = BY_NAME[name].rate
    assert rate is not None
    return rate


@each_row("usb2.rates", only=range(5))
def test_a_usb_clock_may_be_off_as_published(entry: Any, row: Any) -> None:
    name, times = OF_FOUR.get(row["quantity"], "usb-high-speed"), 4 if row["quantity"] in OF_FOUR else 1
    assert rate_of(name) == times * row["rate_bps"]
    assert half_width(name) == row["tolerance_ppm"] * PPM
    if "min_bps" in row:
        assert rate_of(name) / times * (1 - half_width(name)) == row["min_bps"]
        assert rate_of(name) / times * (1 + half_width(name)) == row["max_bps"]


@each_row("usb2.rates", only=(5, 6))
def test_a_usb_frame_is_off_no_more_than_a_host_s_clock(entry: Any, row: Any) -> None:
    """Figures from memory: ± 500 ns of 1 ms and ± 62.5 ns of 125 µs are both 500 ppm."""
    assert exact(row["tolerance_ns"]) / 1000 / row["period_us"] == half_width("usb-full-speed-host")


@each_row("usb2.worked")
def test_a_multiplied_clock_is_judged_for_usb_as_published(entry: Any, row: Any) -> None:
    clock = Fraction(row["source_hz"]) * row["multiply"] / row["divide"]
    assert agrees(clock, row["derived_clock_hz"])
    found = answer("reference", feed(clock, row["source_tolerance_ppm"]), {}, {"standard": ROLES[row["role"]]})
    choice = found.choices[0]
    for ours, key in (
        (choice.error, "derived_offset_ppm"),
        (choice.error_lowest, "derived_worst_low_ppm"),
        (choice.error_highest, "derived_worst_high_ppm"),
    ):
        assert ours is not None
        assert agrees(ours * 10**6, row[key])
    assert (found.verdict == "inside") == row["within_limit"]


def test_power_delivery_bears_a_tenth() -> None:
    published = entry("usb_pd.bmc")
    share = half_width("usb-power-delivery")
    assert share * 100 == exact(published["tolerance_percent"])
    assert (published["min_bps"], published["max_bps"]) == tuple(
        published["rate_bps"] * (1 + d) for d in (-share, share)
    )
    for key, off in (("min", share), ("nominal", Fraction(0)), ("max", -share)):
        assert printed(10**6 / (published["rate_bps"] * (1 + off)), str(published[f"unit_interval_{key}_us"]))


@each_row("ethernet.mii")
def test_a_media_independent_interface_has_its_clock(entry: Any, row: Any) -> None:
    """The tolerance is from memory."""
    name = {100_000_000: "ethernet-mii", 10_000_000: "ethernet-mii-10"}[row["link_bps"]]
    assert (rate_of(name), half_width(name)) == (row["clock_hz"], row["tolerance_ppm"] * PPM)


@each_row("ethernet.transmit_reference")
def test_a_transmitter_s_reference_may_be_off_as_published(entry: Any, row: Any) -> None:
    """Three of the seven figures are from memory, as the rows say."""
    name = TRANSMITTERS[row["statement"]]
    assert half_width(name) == row["tolerance_ppm"] * PPM
    if "symbol_rate_baud" in row:
        symbols = exact(row["symbol_rate_baud"])
        assert rate_of(name) in (symbols, 3 * symbols)


@pytest.mark.parametrize(
    ("key", "name", "rate", "tolerance"),
    [
        ("ethernet.rmii", "ethernet-rmii", "clock_hz", "tolerance_ppm"),
        ("ieee802154.clock", "ieee-802.15.4", None, "tolerance_ppm"),
        ("ble.clocks", "bluetooth-le-active", None, "active_clock_tolerance_ppm"),
        ("ble.clocks", "bluetooth-le-sleep", None, "sleep_clock_tolerance_ppm"),
        ("flexray", "flexray", None, "node_tolerance_ppm"),
        ("pcie.refclk", "pci-express", "clock_hz", "tolerance_ppm"),
    ],
)
def test_a_clock_may_be_off_as_published(key: str, name: str, rate: str | None, tolerance: str) -> None:
    published = entry(key)
    assert half_width(name) == published[tolerance] * PPM
    assert BY_NAME[name].rate == (published[rate] if rate else None)


def test_two_nodes_are_off_from_one_another_by_twice_as_much() -> None:
    """FlexRay: 3000 ppm of a cycle of 10 ms are 30 µs."""
    for key, name in (("ieee802154.clock", "ieee-802.15.4"), ("flexray", "flexray")):
        assert 2 * half_width(name) == entry(key)["between_two_nodes_ppm"] * PPM
    assert 2 * half_width("flexray") * entry("flexray")["cycle_ms"] * 1000 == entry("flexray")["published_drift_us"]


@pytest.mark.parametrize(
    ("key", "name", "rate", "off"),
    [
        ("rfid.carrier", "proximity-card", "carrier_hz", "tolerance_hz"),
        ("ntsc", "colour-subcarrier-ntsc", "subcarrier_hz", "subcarrier_tolerance_hz"),
        ("pal", "colour-subcarrier-pal", "subcarrier_hz", "subcarrier_tolerance_hz"),
    ],
)
def test_a_carrier_may_be_off_by_so_many_hertz(key: str, name: str, rate: str, off: str) -> None:
    published = entry(key)
    assert rate_of(name) == exact(published[rate])
    assert half_width(name) * rate_of(name) == published[off]


def test_the_pixel_clock_s_two_figures_are_within_its_allowance() -> None:
    """25.2 MHz is exactly 60 Hz of 800 by 525 pixels; figures from memory."""
    published, name = entry("video.vga"), "vga-640x480"
    assert rate_of(name) == published["pixel_clock_hz"]
    assert half_width(name) * 100 == exact(published["tolerance_percent"])
    whole = published["exact_60hz_pixel_clock_hz"]
    assert whole == 60 * published["total_pixels"] * published["total_lines"]
    assert answer("reference", feed(whole), {}, {"standard": name}).verdict == "inside"


@each_row("ble.window")
def test_listening_is_widened_as_published(entry: Any, row: Any) -> None:
    ours = 1000 * listening_widened(
        Fraction(row["interval_ms"], 1000), row["skipped_events"], row["own_ppm"] * PPM, row["peer_ppm"] * PPM
    )
    assert ours == exact(row["derived_widening_each_side_ms"])
    if "published_widening_ms" in row:
        assert printed(ours, row["published_widening_ms"])
