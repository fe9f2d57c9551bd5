"""A reader of the drawers' MathML, made apart from what writes it: it does the sum that stands there, exactly."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from xml.etree import ElementTree
from xml.etree.ElementTree import Element

UNITS = {"Hz": 1, "kHz": 10**3, "MHz": 10**6, "GHz": 10**9}


def sides(text: str) -> list[list[Element]]:
    """What stands between the equals signs."""
    found: list[list[Element]] = [[]]
    for element in ElementTree.fromstring(text):
        if element.tag == "mo" and element.text == "=":
            found.append([])
        else:
            found[-1].append(element)
    return found


def read_numbers(text: str) -> Fraction | None:
    """The clock that the side in numbers comes to, in hertz; None where nothing is reckoned."""
    found = sides(text)
    return read_row(found[2]) if len(found) == 4 else None


def read_result(text: str) -> Fraction:
    """The clock that stands at the end, in hertz, as far as its digits go."""
    return read_row(sides(text)[-1])


def read_letters(text: str, values: Mapping[str, Fraction]) -> Fraction:
    """The clock that the side in letters comes to with these values; a title is a value too."""
    return read_row(sides(text)[1], values)


def read_row(row: list[Element], values: Mapping[str, Fraction] | None = None) -> Fraction:
    """A row of terms with `·` and `+` between them, or a number with its unit."""
    total, product, fresh = Fraction(0), Fraction(1), True
    for element in row:
        if element.tag == "mo":
            if element.text == "+":
                total, product, fresh = total + product, Fraction(1), True
            elif element.text == "·":
                fresh = True
            else:
                assert element.text in ("(", ")")
        elif element.tag == "mtext":
            product *= UNITS[element.text or ""]
        elif element.tag != "mspace":
            assert fresh, "two terms stand side by side with no sign between"
            product, fresh = product * read_term(element, values), False
    return total + product


def read_term(element: Element, values: Mapping[str, Fraction] | None) -> Fraction:
    """One number, letter, fraction or row."""
    match element.tag:
        case "mn":
            return Fraction((element.text or "").replace("\u2009", "").rstrip("…"))
        case "mfrac":
            above, below = element
            return read_term(above, values) / read_term(below, values)
        case "mrow":
            return read_row(list(element), values)
    assert values is not None, "a letter stands among the numbers"
    return values["".join(element.itertext())]
