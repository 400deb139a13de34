"""From sections of several bones to the section of the average animal's bone."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bonewright.findings import Caveat, Finding, HowGot, RowRef, Statement
from bonewright.quantity import Draws, Quantity
from bonewright.sections.measured import MeasuredSection

__all__ = ["average_bones"]

# Below this many bones an element's own spread is too poorly known to use alone.
_FEWEST_FOR_OWN_SPREAD = 4
# Common practice: shafts of one size differ by about 15 % in Z between individuals; the
# assumption weighs as much as three measured bones.
_ASSUMED_SPREAD_LN = 0.15
_ASSUMED_DEGREES_OF_FREEDOM = 3
# Columns of a bone's shape: ln(Z / L^3), ln(Z / (x L^2)), logit of inner over outer.
_MODULUS, _MODULUS_OVER_ARM, _INNER_OVER_OUTER = range(3)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Element:
    """Shapes of one element's bones, (n_bones, 3), freed of size."""

    name: str
    shapes: NDArray[np.float64]
    rows: tuple[RowRef, ...]
    solid: bool


def average_bones(
    sections: Sequence[MeasuredSection],
    *,
    average_length_draws_mm: Mapping[str, Draws],
    held_out: Mapping[str, tuple[RowRef, ...]],
    rng: np.random.Generator,
    n_draws: int,
) -> tuple[dict[str, Draws], tuple[Finding, ...]]:
    """Bring each element's sections to the average length and average them.

    Returns Z/x draws by element, shape (n_draws,) in mm2, and the findings. Sections of one
    bone are averaged first, so that n counts bones.

    Notes
    -----
    Bones of one kind are taken to differ in size only by geometric similarity: Z / L^3 and
    Z / (x L^2) do not depend on size. Means are of logarithms, with a t interval; with
    fewer than four bones the spread is that of all elements together.
    """
    elements = _by_element(sections)
    draws: dict[str, Draws] = {}
    findings: list[Finding] = []
    for element in elements:
        lengths = average_length_draws_mm.get(element.name)
        if lengths is None:
            findings.append(_without_length(element))
            continue
        means = element.shapes.mean(axis=0)
        errors, degrees_of_freedom, borrowed = _standard_errors(element, elements)
        # One variate for all columns: a bone that is thick is so in Z and in Z/x alike.
        variate = rng.standard_t(degrees_of_freedom, size=n_draws)
        shape = means + errors * variate[:, None]
        draws[element.name] = np.exp(shape[:, _MODULUS_OVER_ARM]) * lengths**2
        caveats = _caveats(element, borrowed=borrowed, held_out=held_out.get(element.name, ()))
        findings += _findings(
            element,
            modulus_mm3=np.exp(shape[:, _MODULUS]) * lengths**3,
            modulus_over_arm_mm2=draws[element.name],
            inner_over_outer=1 / (1 + np.exp(-shape[:, _INNER_OVER_OUTER])),
            caveats=caveats,
        )
    return draws, tuple(findings)


def _by_element(sections: Sequence[MeasuredSection]) -> list[_Element]:
    elements = []
    for name in sorted({section.element for section in sections}):
        bones: dict[str, list[NDArray[np.float64]]] = {}
        rows = []
        solid = False
        for section in sections:
            if section.element == name:
                shape = _shape(section)
                solid = solid or not np.isfinite(shape[_INNER_OVER_OUTER])
                bones.setdefault(section.specimen_id or section.section_id, []).append(shape)
                rows.append(section.ref)
        shapes = np.array([np.mean(of_bone, axis=0) for of_bone in bones.values()])
        if solid:
            shapes[:, _INNER_OVER_OUTER] = 0.0
        elements.append(_Element(name=name, shapes=shapes, rows=tuple(rows), solid=solid))
    return elements


def _shape(section: MeasuredSection) -> NDArray[np.float64]:
    modulus = section.properties.section_modulus_mediolateral_mm3
    length = section.bone_length_mm
    outer = abs(_ring_area(section.outline_mm[0]))
    # Rings of n points all lose the same share of an ellipse's area, so it cancels here.
    ratio = np.sqrt(sum(abs(_ring_area(ring)) for ring in section.outline_mm[1:]) / outer)
    return np.array(
        [
            np.log(modulus / length**3),
            np.log(modulus / (section.distance_to_distal_end_mm * length**2)),
            np.log(ratio / (1 - ratio)) if ratio > 0 else -np.inf,
        ]
    )


def _ring_area(ring: Sequence[tuple[float, float]]) -> float:
    x, y = np.asarray(ring, dtype=np.float64).T
    return float(x @ np.roll(y, -1) - y @ np.roll(x, -1)) / 2


def _standard_errors(
    element: _Element, elements: Sequence[_Element]
) -> tuple[NDArray[np.float64], int, bool]:
    """Return standard errors of the three means, their degrees of freedom, and if borrowed."""
    n_bones = len(element.shapes)
    if n_bones >= _FEWEST_FOR_OWN_SPREAD:
        own = element.shapes.std(axis=0, ddof=1)
        return own / np.sqrt(n_bones), n_bones - 1, False
    squares = sum(
        ((other.shapes - other.shapes.mean(axis=0)) ** 2).sum(axis=0) for other in elements
    )
    degrees_of_freedom = sum(len(other.shapes) - 1 for other in elements)
    if degrees_of_freedom < _ASSUMED_DEGREES_OF_FREEDOM:
        squares = squares + _ASSUMED_DEGREES_OF_FREEDOM * _ASSUMED_SPREAD_LN**2
        degrees_of_freedom += _ASSUMED_DEGREES_OF_FREEDOM
    return np.sqrt(squares / degrees_of_freedom / n_bones), degrees_of_freedom, True


def _caveats(
    element: _Element, *, borrowed: bool, held_out: tuple[RowRef, ...]
) -> tuple[Caveat, ...]:
    caveats = []
    if borrowed:
        caveats.append(
            Caveat(
                code="few bones sectioned",
                text=(
                    f"Rests on sections of {len(element.shapes)} {element.name}"
                    f"{'' if len(element.shapes) == 1 else ' bones'}: the spread between"
                    " individuals is borrowed from the other leg bones and, where these are"
                    " few too, from common practice (15 %)."
                ),
                rows=element.rows,
            )
        )
    if held_out:
        caveats.append(
            Caveat(
                code="rows held out",
                text="Doubtful sections are left out until you decide about them: "
                + "; ".join(ref.words() for ref in held_out)
                + ".",
                rows=held_out,
            )
        )
    return tuple(caveats)


def _findings(
    element: _Element,
    *,
    modulus_mm3: Draws,
    modulus_over_arm_mm2: Draws,
    inner_over_outer: Draws,
    caveats: tuple[Caveat, ...],
) -> list[Finding]:
    length_key = (f"skeleton.mean.{element.name}.GL",)

    def finding(
        name: str,
        title: str,
        *,
        value: Quantity,
        formula: str,
        inputs: tuple[str, ...] = (),
        source: str = "Roark",
    ) -> Finding:
        return Finding(
            key=f"sections.{name}.{element.name}",
            step="sections",
            title=f"{title}, {element.name}",
            value=value,
            how=HowGot(formula=formula, inputs=inputs, rows=element.rows, sources=(source,)),
            n=len(element.shapes),
            n_of="bones",
            caveats=caveats,
        )

    findings = [
        finding(
            "modulus",
            "Section modulus against bending front to back, average animal",
            value=Quantity(draws=modulus_mm3, unit="mm3"),
            formula="mean of ln(Z / L^3) over bones, times average length cubed",
            inputs=length_key,
        ),
        finding(
            "modulus_over_arm",
            "Section modulus over distance to the lower end, average animal",
            value=Quantity(draws=modulus_over_arm_mm2, unit="mm2"),
            formula="mean of ln(Z / (x L^2)) over bones, times average length squared",
            inputs=length_key,
        ),
    ]
    if not element.solid:
        findings += [
            finding(
                "inner_over_outer",
                "Inner over outer diameter",
                value=Quantity(draws=inner_over_outer, unit="1"),
                formula="K = square root of (marrow area / whole area), mean of logits over bones",
                source="CurreyAlexander1985",
            ),
            finding(
                "cortical_area",
                "Share of the section that is bone",
                value=Quantity(draws=100 * (1 - inner_over_outer**2), unit="%"),
                formula="100 (1 - K^2)",
                inputs=(f"sections.inner_over_outer.{element.name}",),
                source="CurreyAlexander1985",
            ),
        ]
    return findings


def _without_length(element: _Element) -> Finding:
    return Finding(
        key=f"sections.unscaled.{element.name}",
        step="sections",
        title=f"Sections without an average length, {element.name}",
        value=Statement(
            text=(
                f"Sections of the {element.name} cannot be brought to the size of the average"
                " animal, because the average skeleton has no greatest length (GL) of that bone."
            )
        ),
        how=HowGot(formula="needs the mean greatest length of the bone", rows=element.rows),
        n=len(element.shapes),
        n_of="bones",
    )
