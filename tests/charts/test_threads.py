"""The way down: which threads cross which rows. x are on an axis of four decades from 10 kHz, so 25 % a decade."""

from fractions import Fraction

from wheelwork.charts.axis import Axis
from wheelwork.charts.lanes import Stop, Threads, Turn, thread_rows

AXIS = Axis(4.0, 8.0)
KHZ, MHZ = Fraction(10**3), Fraction(10**6)


def stop(key: str, frequency: Fraction | None, feeder: str | None = None, label: str = "", ratio: int = 1) -> Stop:
    return Stop(key, frequency, feeder, label, Fraction(ratio))


def test_a_thread_leaves_its_feeder_passes_the_rows_between_and_turns_into_its_own() -> None:
    rows = thread_rows(
        AXIS,
        [stop("crystal", 10 * MHZ), stop("other", None), None, stop("core", MHZ, "crystal", "÷10", 10)],
    )
    assert rows == [
        Threads((), 75.0, None),
        Threads((75.0,)),
        Threads((75.0,)),
        Threads((), None, Turn(75.0, 50.0, "÷10", "long")),
    ]


def test_a_thread_that_feeds_two_rows_turns_into_the_first_and_passes_on() -> None:
    rows = thread_rows(
        AXIS, [stop("core", MHZ), stop("bus", 500 * KHZ, "core", "÷2", 2), stop("timer", 100 * KHZ, "core", "÷10", 10)]
    )
    assert rows[1].passing == (50.0,)
    assert rows[1].turn == Turn(50.0, AXIS.x(500 * KHZ), "÷2", "short")
    assert rows[2] == Threads((), None, Turn(50.0, 25.0, "÷10", "long"))


def test_a_ratio_of_one_drops_straight_down_without_a_label() -> None:
    rows = thread_rows(AXIS, [stop("core", MHZ), stop("processor", MHZ, "core")])
    assert rows[1].turn == Turn(50.0, 50.0, "", "long")


def test_what_does_not_run_has_no_thread() -> None:
    rows = thread_rows(AXIS, [stop("core", MHZ), stop("link", None, "core", "÷2", 2)])
    assert rows == [Threads(), Threads()]
    rows = thread_rows(AXIS, [stop("spare", None), stop("link", MHZ, "spare")])
    assert rows == [Threads(), Threads()]


def test_no_thread_runs_upwards_or_from_nowhere() -> None:
    rows = thread_rows(AXIS, [stop("early", MHZ, "late"), stop("late", MHZ), stop("lone", MHZ, "gone")])
    assert rows == [Threads(), Threads(), Threads()]


def test_threads_on_one_line_are_drawn_once() -> None:
    rows = thread_rows(
        AXIS, [stop("a", MHZ), stop("b", MHZ), stop("gap", None), stop("c", MHZ, "a"), stop("d", MHZ, "b")]
    )
    assert rows[2].passing == (50.0,)


def test_a_drawer_shows_the_threads_that_go_on_below_its_row() -> None:
    rows = thread_rows(AXIS, [stop("a", 10 * MHZ), stop("b", MHZ), stop("c", MHZ, "b"), stop("d", 10 * MHZ, "a")])
    assert rows[1].below == (75.0, 50.0)
    assert rows[2].below == (75.0,)


def test_a_label_sits_in_the_middle_of_its_run_on_a_patch_of_8_pixels_a_sign_and_4() -> None:
    turn = Turn(75.0, 50.0, "÷10")
    assert (turn.middle, turn.right, turn.patch) == (62.5, 75.0, 28)
