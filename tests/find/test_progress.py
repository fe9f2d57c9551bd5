"""Progress of a search: at an even pace, 5 of 8 parts in 15 s leave 3 parts, 9 s."""

import pytest

from wheelwork.find.progress import seconds_to_go, share_covered
from wheelwork.find.question import Progress


@pytest.mark.parametrize(
    ("progress", "seconds", "to_go"),
    [
        (Progress(40, 64, 12), 15.0, 9.0),
        (Progress(64, 64, 12), 15.0, 0.0),
        (Progress(1, 64, 0), 15.0, 15.0),  # at its pace 945 s; its limit of 30 s ends it before
        (Progress(1, 64, 0), 31.0, 0.0),
        (Progress(0, 64, 0), 15.0, None),
        (Progress(40, None, 0), 15.0, None),
    ],
)
def test_the_time_to_go_follows_the_pace_up_to_the_limit(
    progress: Progress, seconds: float, to_go: float | None
) -> None:
    assert seconds_to_go(progress, seconds, 30.0) == to_go


def test_a_share_is_never_more_than_all() -> None:
    assert share_covered(Progress(65, 64, 0)) == 1.0
