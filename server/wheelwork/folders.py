"""Where templates, static files and scenarios lie: beside the package in a wheel, two levels up in a checkout."""

from pathlib import Path

PACKAGE = Path(__file__).resolve().parent


def find_folder(name: str) -> Path:
    """The folder of that name. Raises FileNotFoundError naming both places where it was looked for."""
    beside, above = PACKAGE / name, PACKAGE.parent.parent / name
    found = next((folder for folder in (beside, above) if folder.is_dir()), None)
    if found is None:
        raise FileNotFoundError(f"no folder {name}: neither {beside} nor {above} is there")
    return found
