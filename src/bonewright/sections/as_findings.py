"""The average animal's bone sections as findings."""

from collections.abc import Mapping
from typing import Final

from bonewright.findings import Caveat, Finding, HowGot, RowRef, Statement
from bonewright.quantity import Draws, Quantity
from bonewright.sections.average_bone import AverageBone
from bonewright.sections.measured import MeasuredSection

__all__ = ["section_findings"]

# Key, title, unit, formula, source.
_MEASURES: Final = (
    (
        "modulus",
        "Section modulus against bending front to back, average animal",
        "mm3",
        "mean of ln(Z / L^3) over bones, times average length cubed",
        "Roark",
    ),
    (
        "modulus_over_arm",
        "Section modulus over distance to the lower end, average animal",
        "mm2",
        "mean of ln(Z / (x L^2)) over bones, times average length squared",
        "Roark",
    ),
    (
        "modulus_sideways",
        "Section modulus against bending side to side, average animal",
        "mm3",
        "as that front to back, about the anteroposterior axis",
        "Roark",
    ),
    (
        "second_moment",
        "Second moment of area about the mediolateral axis, average animal",
        "mm4",
        "mean of ln(I / L^4) over bones, times average length to the fourth",
        "Roark",
    ),
    (
        "second_moment_sideways",
        "Second moment of area about the anteroposterior axis, average animal",
        "mm4",
        "mean of ln(I / L^4) over bones, times average length to the fourth",
        "Roark",
    ),
    (
        "area",
        "Area of bone in the section, average animal",
        "mm2",
        "mean of ln(A / L^2) over bones, times average length squared",
        "Roark",
    ),
    (
        "torsion_constant",
        "Torsion constant, average animal",
        "mm4",
        "Saint-Venant's warping solved for each section; mean of ln(J / L^4) over bones, times"
        " average length to the fourth",
        "TimoshenkoGoodier1970",
    ),
)


def section_findings(
    bones: Mapping[str, AverageBone],
    *,
    unscaled: Mapping[str, tuple[MeasuredSection, ...]],
    held_out: Mapping[str, tuple[RowRef, ...]],
) -> tuple[Finding, ...]:
    """Put the average bones into findings, in the order of elements."""
    findings: list[Finding] = []
    for name in sorted({*bones, *unscaled}):
        if name in unscaled:
            findings.append(_without_length(name, unscaled[name]))
        else:
            findings += _bone_findings(bones[name], _caveats(bones[name], held_out.get(name, ())))
    return tuple(findings)


def _bone_findings(bone: AverageBone, caveats: tuple[Caveat, ...]) -> list[Finding]:
    element = bone.element
    draws: dict[str, Draws] = {
        "modulus": bone.modulus_mm3,
        "modulus_over_arm": bone.modulus_over_arm_mm2,
        "modulus_sideways": bone.modulus_sideways_mm3,
        "second_moment": bone.second_moment_mm4,
        "second_moment_sideways": bone.second_moment_sideways_mm4,
        "area": bone.area_mm2,
        "torsion_constant": bone.torsion_constant_mm4,
    }

    def finding(
        name: str,
        title: str,
        *,
        value: Quantity,
        formula: str,
        inputs: tuple[str, ...] = (),
        source: str = "CurreyAlexander1985",
        further: tuple[Caveat, ...] = (),
    ) -> Finding:
        return Finding(
            key=f"sections.{name}.{element}",
            step="sections",
            title=f"{title}, {element}",
            value=value,
            how=HowGot(formula=formula, inputs=inputs, rows=bone.rows, sources=(source,)),
            n=bone.n_bones,
            n_of="bones",
            caveats=(*caveats, *further),
        )

    findings = [
        finding(
            key,
            title,
            value=Quantity(draws=draws[key], unit=unit),
            formula=formula,
            inputs=(f"skeleton.mean.{element}.GL",),
            source=source,
            further=_torsion_caveats(bone) if key == "torsion_constant" else (),
        )
        for key, title, unit, formula, source in _MEASURES
    ]
    if bone.inner_over_outer is not None:
        findings += [
            finding(
                "inner_over_outer",
                "Inner over outer diameter",
                value=Quantity(draws=bone.inner_over_outer, unit="1"),
                formula="K = square root of (marrow area / whole area), mean of logits over bones",
            ),
            finding(
                "cortical_area",
                "Share of the section that is bone",
                value=Quantity(draws=100 * (1 - bone.inner_over_outer**2), unit="%"),
                formula="100 (1 - K^2)",
                inputs=(f"sections.inner_over_outer.{element}",),
            ),
        ]
    return findings


def _torsion_caveats(bone: AverageBone) -> tuple[Caveat, ...]:
    if not bone.thin_wall:
        return ()
    return (
        Caveat(
            code="torsion by thin wall",
            text=(
                "Some section has several cavities or an edge that doubles back; its torsion"
                " constant is Bredt's for one wall of even thickness."
            ),
        ),
    )


def _caveats(bone: AverageBone, held_out: tuple[RowRef, ...]) -> tuple[Caveat, ...]:
    caveats = []
    if bone.borrowed:
        caveats.append(
            Caveat(
                code="few bones sectioned",
                text=(
                    f"Rests on sections of {bone.n_bones} {bone.element}"
                    f"{'' if bone.n_bones == 1 else ' bones'}: the spread between"
                    " individuals is borrowed from the other leg bones and, where these are"
                    " few too, from common practice (15 %)."
                ),
                rows=bone.rows,
            )
        )
    if bone.n_worn:
        caveats.append(
            Caveat(
                code="weathered surface",
                text=(
                    f"{bone.n_worn} of {bone.n_bones} bones sectioned have a weathered surface:"
                    " what it lost is allowed for by the choice weathered_section_percent."
                ),
                rows=bone.rows,
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


def _without_length(element: str, sections: tuple[MeasuredSection, ...]) -> Finding:
    return Finding(
        key=f"sections.unscaled.{element}",
        step="sections",
        title=f"Sections without an average length, {element}",
        value=Statement(
            text=(
                f"Sections of the {element} cannot be brought to the size of the average"
                " animal, because the average skeleton has no greatest length (GL) of that bone."
            )
        ),
        how=HowGot(
            formula="needs the mean greatest length of the bone",
            rows=tuple(section.ref for section in sections),
        ),
        n=len({section.specimen_id or section.section_id for section in sections}),
        n_of="bones",
    )
