"""Wheelwork: clock plans of microcontroller boards, judged exactly, mended, shared."""

__version__ = "0.1.0"

STOREYS: tuple[tuple[str, ...], ...] = (
    ("findings",),
    ("quantities",),
    ("formulas", "charts"),
    ("links",),
    ("part", "estimates"),
    ("plan",),
    ("clocks",),
    ("power",),
    ("judge",),
    ("find", "change"),
    ("folders", "settings"),
    ("access", "watch"),
    ("handover", "shelf", "searches"),
    ("api",),
    ("pages", "command"),
    ("app",),
)
"""The rooms from the ground up: a room imports only from earlier lines, rooms on one line not from each other."""
