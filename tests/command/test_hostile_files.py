"""Files that hold no plan and no sheet, whatever they are: exit 2 and a sentence each, soon, never a traceback."""

from __future__ import annotations

import os
import random
from pathlib import Path

import pytest

from tests.demo import PLANS
from wheelwork.command import main
from wheelwork.settings import Settings
from wheelwork.shelf.library import make_library

pytestmark = pytest.mark.timeout(10)  # a bound on what hangs: a file without an end was read until the memory was full

FILES: dict[str, tuple[bytes, str]] = {
    "nothing": (b"", "is missing"),
    "random bytes": (random.Random(1).randbytes(500), "not UTF-8"),
    "two-byte text": ('part = "x"'.encode("utf-16"), "not UTF-8"),
    "zeros": (bytes(5_000_000), "more than"),
    "megabytes": (b"a = 1\n" * 600_000, "more than"),
    "open lists": (b"a = " + b"[" * 100_000, "nested too deeply"),
    "nested lists": (b"a = " + b"[" * 300 + b"]" * 300, "nested too deeply"),
    "dots": (b"a" + b".a" * 20_000 + b" = 1", "nested too deeply"),
    "digits": (b"a = " + b"9" * 20_000, "thousands of digits"),
    "values": (b"a = [" + b"0," * 100_000 + b"]", "more than"),
    "keys": (b"".join(b"a%d = 1\n" % i for i in range(5_000)), "no key here"),
    "a date": (b'format = "wheelwork-part/1"\nname = 1979-05-27\npart = 1979-05-27\n', "1979-05-27"),
}
ENDLESS = [path for path in ("/dev/zero", "/dev/full") if Path(path).exists()]


def refused(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> str:
    """What is said of a file that is refused."""
    assert main(arguments) == 2
    heard = capsys.readouterr()
    assert heard.out == ""
    assert "Traceback" not in heard.err
    return heard.err


@pytest.mark.parametrize("command", ["check", "sheet"])
@pytest.mark.parametrize("name", FILES)
def test_a_file_that_is_none_of_ours_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], name: str, command: str
) -> None:
    held, what = FILES[name]
    path = tmp_path / "file.toml"
    path.write_bytes(held)
    said = refused([command, str(path)], capsys)
    assert what in said or (command == "check" and "names no part sheet" in said)


@pytest.mark.parametrize("command", ["check", "sheet"])
@pytest.mark.parametrize("path", ["/", "", ".", "no/where.toml", "a" * 5000, *ENDLESS])
def test_a_path_to_no_file_is_refused(capsys: pytest.CaptureFixture[str], path: str, command: str) -> None:
    assert ";" in refused([command, path], capsys)
    assert ";" in refused(["check", str(PLANS[0]), "--part", path], capsys)


def test_a_plan_with_a_byte_order_mark_and_other_line_ends_is_read(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """As editors on other systems save it."""
    path = tmp_path / "plan.toml"
    path.write_bytes(b"\xef\xbb\xbf" + Path(PLANS[1]).read_bytes().replace(b"\n", b"\r\n"))
    assert main(["check", str(path)]) == main(["check", str(PLANS[1])])
    half = capsys.readouterr().out
    assert half[: len(half) // 2] == half[len(half) // 2 :]


def test_the_library_waits_for_no_pipe_and_tells_of_each_sheet_that_is_none(tmp_path: Path) -> None:
    parts = tmp_path / "parts"
    parts.mkdir()
    os.mkfifo(parts / "pipe.toml")
    (parts / "folder.toml").mkdir()
    (parts / "nowhere.toml").symlink_to(tmp_path / "nothing")
    (parts / "bytes.toml").write_bytes(b"\xff")
    sheets = make_library(Settings(data=tmp_path)).sheets()
    for name in ("pipe", "folder", "nowhere", "bytes"):
        assert sheets[name].part is None
        assert sheets[name].problems
    assert sheets["turnstone-58"].part is not None
