"""Numbers, units and names as a reader meets them."""

import re
import textwrap

from bonewright.findings import Doubt, Exact, Finding
from bonewright.quantity import Quantity, Summary, format_amount, format_interval

__all__ = [
    "ELEMENT_ORDER",
    "STEP_TITLES",
    "amount_words",
    "bone_words",
    "count_words",
    "counted_words",
    "doubt_state",
    "element_rank",
    "interval_words",
    "mass_words",
    "plural",
    "raised",
    "range_words",
    "rests_on_words",
    "short_title",
    "typeset",
    "unit_words",
    "value_words",
    "year_words",
]

STEP_TITLES = {
    "skeleton": "The average skeleton",
    "relatives": "Mass from the leg bones of living relatives",
    "sections": "Cross-sections of the leg bones",
    "body": "Mass from a modelled body",
    "movement": "What the legs could bear",
    "testimony": "Pictures, accounts and the earlier mount",
    "judgement": "The lines of evidence together",
}

ELEMENT_ORDER = (
    "skull",
    "mandible",
    "sternum",
    "furcula",
    "coracoid",
    "scapula",
    "humerus",
    "radius",
    "ulna",
    "carpometacarpus",
    "pelvis",
    "femur",
    "tibiotarsus",
    "tarsometatarsus",
    "phalanx",
)
"""From head to foot, the order in which a skeleton is laid out."""

_POWER = re.compile(r"\^(?:(-?\d+)|\((-?\d+)\))(?![/\d])")
_SUPERSCRIPTS = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")

_MINUS = re.compile(r"(?<![\w\-–−^])-(?=\d)")
_TIED = re.compile(
    r"(?<=\d) (?=(?:%|kg|g|mm|cm|m|km|L|mL|MPa|GPa|px|s|years?)(?![\w]))"
    r"|(?<=\b[np]) (?=[=<] )|(?<=\b[np] [=<]) (?=[\d.])"
)

_UNITS = {
    "1": "",
    "kg/m3": "kg/m³",
    "m3": "m³",
    "mm2": "mm²",
    "mm3": "mm³",
    "mm4": "mm⁴",
    "GPa^-1": "GPa⁻¹",
    "m/s2": "m/s²",
}


def raised(text: str) -> str:
    """Raise the powers of a formula typed on one line: 'tau^2' becomes 'tau²'."""
    return _POWER.sub(lambda found: (found[1] or found[2]).translate(_SUPERSCRIPTS), text)


def typeset(text: str) -> str:
    """Set a line for reading: a true minus before a number, and its unit never on the next line."""
    return _TIED.sub("\u00a0", _MINUS.sub("−", text))


def element_rank(element: str) -> int:
    """Return the place of an element from head to foot; unknown ones come last."""
    return ELEMENT_ORDER.index(element) if element in ELEMENT_ORDER else len(ELEMENT_ORDER)


def unit_words(unit: str) -> str:
    """Write a unit as print has it: ``kg/m3`` becomes kg/m³."""
    return _UNITS.get(unit, unit)


def bone_words(bone: tuple[str, str]) -> str:
    """Name a bone measurement: 'femur CD'."""
    return f"{bone[0]} {bone[1]}"


def count_words(count: int) -> str:
    """Write a whole number, its thousands set apart by a narrow space."""
    return f"{count:,}".replace(",", "\u202f")


def plural(count: int, noun: str, *, many: str | None = None) -> str:
    """Write '1 bone' or '3 bones'."""
    return f"{count_words(count)} {noun if count == 1 else many or noun + 's'}"


_ALIKE_IN_BOTH = {"species", "series"}


def counted_words(count: int, things: str) -> str:
    """Write what a number rests on: '3 lines of evidence', but '1 line of evidence'."""
    if count != 1:
        return f"{count_words(count)} {things}".strip()
    head, of, rest = things.partition(" of ")
    opening, _, noun = head.rpartition(" ")
    if noun not in _ALIKE_IN_BOTH:
        noun = f"{noun[:-3]}y" if noun.endswith("ies") else noun.removesuffix("s")
    return f"1 {opening} {noun}{of}{rest}".replace("  ", " ").strip()


def rests_on_words(finding: Finding) -> str:
    """Write what a finding rests on: 'at most 19 individuals', or nothing.

    Loose bones that are neither paired nor associated may be of one animal: individuals
    counted behind an average are at most so many.
    """
    if finding.n is None:
        return ""
    words = counted_words(finding.n, finding.n_of)
    loose = finding.key.startswith("skeleton.mean.") and finding.n_of == "individuals"
    return f"at most {words}" if loose else words


def amount_words(value: float, unit: str) -> str:
    """Write a number that has no interval: whole counts whole, others to three digits."""
    if value == int(value) and abs(value) < 1e6:
        text = count_words(int(value))
    elif 0 < abs(value) < 0.001 and unit in {"", "1"}:
        text = "below 0.001" if value > 0 else "between -0.001 and 0"
    else:
        text = format_amount(value)
    shown = unit_words(unit)
    return f"{text} {shown}" if shown else text


def interval_words(summary: Summary, unit: str) -> str:
    """Write 'about 21 kg (17 to 26)'."""
    return format_interval(summary, unit_words(unit))


def range_words(low: float, high: float) -> str:
    """Write '9 to 25' with as many digits as the width of the range deserves."""
    spread = abs(high - low)
    return f"{format_amount(low, spread=spread)} to {format_amount(high, spread=spread)}"


def mass_words(summary: Summary) -> str:
    """Write a mass without its unit, for the margin of a figure: '21 (17 to 26)'."""
    return interval_words(summary, "").removeprefix("about ")


def short_title(title: str, *, letters: int) -> str:
    """Cut a title to what a row of a figure has room for.

    What stands in brackets at its end names the bone, and is kept.
    """
    if len(title) <= letters:
        return title
    opening, bracket, closing = title.rpartition(" (")
    if not bracket:
        opening, closing = closing, ""
    else:
        # 'femur, breadth of the upper end (Bp)' is still told by its code.
        opening = opening.partition(", ")[0]
    room = max(letters - len(bracket + closing), 12)
    return f"{textwrap.shorten(opening, room, placeholder=' …')}{bracket}{closing}"


def doubt_state(doubt: Doubt) -> str:
    """Say whether a doubtful row is used, and how."""
    if doubt.decided == "keep":
        return "used: decided to keep"
    if doubt.decided == "set aside":
        return "not used: set aside"
    if doubt.held_out:
        return "held out until decided"
    if doubt.kind == "shaped like another picture":
        return "heard as a copy until decided"
    return "used until decided"


def value_words(finding: Finding) -> str:
    """Write the value of a finding, whatever its kind."""
    value = finding.value
    if isinstance(value, Quantity):
        return interval_words(value.summary(), value.unit)
    if isinstance(value, Exact):
        return amount_words(value.value, value.unit)
    return value.text


def year_words(year: float) -> str:
    """Write a decimal year as the year it lies in."""
    return str(int(year // 1))
