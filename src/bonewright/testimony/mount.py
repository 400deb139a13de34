"""An earlier mount held against the bones."""

import re
from dataclasses import dataclass

import numpy as np

from bonewright.findings import Finding, HowGot, Statement
from bonewright.quantity import Draws, Quantity
from bonewright.study.model import MountMeasurement

__all__ = [
    "MountCheck",
    "check_measure",
    "expected_draws_mm",
    "judged",
    "mount_findings",
    "mount_without_bone",
]

WRONG_BELOW_PERCENT = 1.0
# Beyond this the words give a multiple, not a percentage.
_MULTIPLE_FROM = 1.5

_SIZE_WORDS = {
    "length": ("long", "short"),
    "depth": ("deep", "shallow"),
    "height": ("high", "low"),
    "breadth": ("broad", "narrow"),
    "width": ("wide", "narrow"),
    "thickness": ("thick", "thin"),
    "circumference": ("thick", "thin"),
    "girth": ("thick", "thin"),
}
_BREADTHS = {"GB", "SBO", "SBF", "AA", "SB", "Bb", "BF", "Bp", "Bd", "SC"}
_DEPTHS = {"Dp", "Dip", "Dic", "Dd", "Did", "DiA"}


@dataclass(frozen=True, slots=True, kw_only=True)
class MountCheck:
    """One measure of the old mount, or of a picture, against bone plus soft tissue.

    ``expected_mm`` is the 95 % range of one individual's bone plus allowance; ``ratio`` is
    found over the middle of the expected, ``beyond_mm`` how far outside the range it lies;
    ``chance_percent`` two-sided chance of so odd a measure in a right mount; ``wrong`` where
    that is below 1 %.
    """

    measurement_id: str
    mount_id: str
    title: str
    element: str
    code: str
    found_mm: float
    expected_mm: tuple[float, float]
    ratio: float
    chance_percent: float
    wrong: bool
    words: str
    beyond_mm: float = 0.0


def expected_draws_mm(
    measure: MountMeasurement,
    *,
    mean_draws_mm: Draws,
    between_sd_mm: float,
    rng: np.random.Generator,
) -> Draws:
    """Draw what a right mount of one individual would measure, shape (n_draws,), mm.

    The average bone, plus how individuals differ from it, plus soft tissue anywhere between
    the least and most allowed.
    """
    n_draws = len(mean_draws_mm)
    return (
        mean_draws_mm
        + between_sd_mm * rng.standard_normal(n_draws)
        + rng.uniform(measure.allowance_low_mm, measure.allowance_high_mm, n_draws)
    )


def check_measure(measure: MountMeasurement, expected_mm: Draws) -> MountCheck:
    """Compare one measure with draws of what a right mount would measure."""
    return judged(
        measure.ref.row_id,
        mount_id=measure.mount_id,
        title=measure.title,
        place=(measure.element, measure.code),
        found_mm=measure.value_mm,
        expected_mm=expected_mm,
    )


def judged(
    name: str,
    *,
    mount_id: str,
    title: str,
    place: tuple[str, str],
    found_mm: float,
    expected_mm: Draws,
) -> MountCheck:
    """Judge a length by draws of what would be right."""
    n_draws = len(expected_mm)
    at_least = float(np.mean(expected_mm >= found_mm))
    at_most = float(np.mean(expected_mm <= found_mm))
    # A chance smaller than the draws can tell is given as the smallest they can.
    chance = min(1.0, max(2 * min(at_least, at_most), 1 / n_draws))
    low, middle, high = (float(q) for q in np.quantile(expected_mm, [0.025, 0.5, 0.975]))
    ratio = float(found_mm / middle)
    wrong = 100 * chance < WRONG_BELOW_PERCENT
    return MountCheck(
        measurement_id=name,
        mount_id=mount_id,
        title=title,
        element=place[0],
        code=place[1],
        found_mm=found_mm,
        expected_mm=(low, high),
        beyond_mm=max(found_mm - high, low - found_mm, 0.0),
        ratio=ratio,
        chance_percent=100 * chance,
        wrong=wrong,
        words=_words(title, place[1], ratio=ratio, chance=chance, wrong=wrong),
    )


def mount_findings(
    check: MountCheck, measure: MountMeasurement, expected: Quantity
) -> tuple[Finding, Finding]:
    """Give the verdict on one measure in words, and what a right mount would measure."""
    expected_finding = Finding(
        key=f"testimony.mount.{check.measurement_id}.expected",
        step="testimony",
        title=f"Old mount {check.mount_id}, {check.title}: what bone and soft tissue allow",
        value=expected,
        how=HowGot(
            formula="average bone + spread between individuals + soft tissue between its limits",
            inputs=(f"skeleton.mean.{check.element}.{check.code}",),
            rows=(measure.ref,),
        ),
    )
    return (
        Finding(
            key=f"testimony.mount.{check.measurement_id}",
            step="testimony",
            title=f"Old mount {check.mount_id}, {check.title}",
            value=Statement(
                text=f"{check.words} (found {check.found_mm:.4g} mm{_beyond(check)}; so odd a"
                f" measure would come up in {_percent(check.chance_percent)} of right mounts)."
            ),
            how=HowGot(
                formula="two-sided share of right mounts as far off; wrong below 1 %",
                inputs=(expected_finding.key,),
                rows=(measure.ref,),
            ),
        ),
        expected_finding,
    )


def mount_without_bone(measure: MountMeasurement) -> Finding:
    """Say that a measure has no bone to be held against."""
    return Finding(
        key=f"testimony.mount.{measure.ref.row_id}",
        step="testimony",
        title=f"Old mount {measure.mount_id}, {measure.title}",
        value=Statement(
            text=f"Cannot be judged: the average skeleton has no {measure.code} of the"
            f" {measure.element}."
        ),
        how=HowGot(
            formula="needs the mean of the bone measurement it answers to", rows=(measure.ref,)
        ),
    )


def _beyond(check: MountCheck) -> str:
    return f", {check.beyond_mm:.2g} mm beyond the range" if check.wrong else ""


def _percent(value: float) -> str:
    return f"{value:.0f} %" if value >= 1 else "less than 1 %"


def _words(title: str, code: str, *, ratio: float, chance: float, wrong: bool) -> str:
    part, size = _part_and_size(title, code)
    long, short = _SIZE_WORDS[size]
    if not wrong:
        if chance < 0.05:
            return f"{part}: {size} unusual, though bone and soft tissue may just allow it"
        return f"{part}: {size} within what bone and soft tissue allow"
    if ratio >= _MULTIPLE_FROM:
        return f"{part}: {ratio:.1f} times as {long} as bone and soft tissue allow"
    if ratio <= 1 / _MULTIPLE_FROM:
        return f"{part}: only {100 * ratio:.0f} % as {long} as bone and soft tissue allow"
    percent = 100 * abs(ratio - 1)
    return f"{part}: {percent:.0f} % too {long if ratio > 1 else short} for its bone"


def _part_and_size(title: str, code: str) -> tuple[str, str]:
    """Take 'length of the lower leg' apart into the part and the size measured."""
    opening = re.match(r"(\w+) (?:of|across) (?:the )?(.+)", title.strip())
    if opening and opening[1].lower() in _SIZE_WORDS:
        size, part = opening[1].lower(), opening[2]
    else:
        size, part = _size_of_code(code), title.strip()
    return part[:1].upper() + part[1:], size


def _size_of_code(code: str) -> str:
    if code in _BREADTHS:
        return "breadth"
    if code in _DEPTHS:
        return "depth"
    return {"CD": "circumference", "GH": "height"}.get(code, "length")
