"""The benchmark: prints what was measured, with the machine. `python -m tests.bench`."""
