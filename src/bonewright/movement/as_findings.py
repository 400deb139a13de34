"""The comparison of strength as findings: indicators, windows and the plain sentence."""

from collections.abc import Mapping, Sequence

from bonewright.findings import Caveat, Finding, HowGot, RowRef, Statement
from bonewright.movement.bounds import BoundsRule
from bonewright.movement.comparison import ComparisonAnimal, StrengthOfBone
from bonewright.movement.published_indicators import PublishedIndicator
from bonewright.movement.wording import comparison_caveats, could_move_sentence, no_window_caveats
from bonewright.quantity import Draws, Quantity

__all__ = ["movement_findings"]

_SOURCES = ("Alexander1985", "Alexander1989")


def movement_findings(
    bones: Mapping[str, StrengthOfBone],
    *,
    joint_draws_kg: tuple[Draws, Draws],
    shares: tuple[float, float, float],
    used: Sequence[ComparisonAnimal],
    rows: Mapping[str, RowRef],
    mass_kg: float,
    comparison: str,
    caveats: tuple[Caveat, ...],
    bounds: BoundsRule = "range",
    published: Sequence[PublishedIndicator] = (),
) -> tuple[Finding, ...]:
    """Put the strength of each leg bone and the joint window into findings.

    ``shares`` are those of draws inside the joint window, of draws with some bone too weak,
    and of draws without any window. ``published`` are the published indicators counted among
    those compared.
    """
    published_animals = sorted({one.animal for one in published if one.element in bones})
    animals = [animal for animal in used if animal.element in bones]
    species = sorted({animal.species for animal in animals})
    shared = (
        *comparison_caveats(animals, comparison=comparison, mass_kg=mass_kg, bounds=bounds),
        *caveats,
    )
    used_rows = tuple(rows[name] for name in species)
    findings = [
        finding
        for bone in bones.values()
        for finding in _bone_findings(
            bone, animals=animals, rows=rows, comparison=comparison, caveats=shared, bounds=bounds
        )
    ]
    window_keys = tuple(
        f"movement.window.{element}.{end}" for element in bones for end in ("low", "high")
    )
    for end, draws_kg, rule in zip(
        ("low", "high"),
        joint_draws_kg,
        ("greatest of the lower", "least of the upper"),
        strict=True,
    ):
        findings.append(
            Finding(
                key=f"movement.window.joint.{end}",
                step="movement",
                title=f"{'Least' if end == 'low' else 'Greatest'} mass at which every leg bone is"
                f" within the range of the {comparison}s",
                value=Quantity(draws=draws_kg, unit="kg"),
                how=HowGot(
                    formula=f"{rule} ends of the leg bones' windows, draw by draw",
                    inputs=window_keys,
                    rows=used_rows,
                    sources=_SOURCES,
                ),
                n=len(species) + len(published_animals),
                n_of=f"{comparison} species",
                caveats=(*shared, *no_window_caveats(shares[2])),
            )
        )
    findings.append(
        Finding(
            key="movement.could_run",
            step="movement",
            title="Whether its legs would have let it move like the living animals compared",
            value=Statement(
                text=could_move_sentence(
                    comparison=comparison,
                    n_species=len(species),
                    share_inside=shares[0],
                    share_too_weak=shares[1],
                    bounds=bounds,
                    n_published=len(published_animals),
                )
            ),
            how=HowGot(
                formula="share of draws of body mass that lie inside the joint window",
                inputs=(
                    "judgement.mass",
                    "movement.window.joint.low",
                    "movement.window.joint.high",
                ),
                rows=used_rows,
                sources=_SOURCES,
            ),
            n=len(species) + len(published_animals),
            n_of=f"{comparison} species",
            caveats=(*shared, *no_window_caveats(shares[2])),
        )
    )
    return tuple(findings)


def _bone_findings(
    bone: StrengthOfBone,
    *,
    animals: Sequence[ComparisonAnimal],
    rows: Mapping[str, RowRef],
    comparison: str,
    caveats: tuple[Caveat, ...],
    bounds: BoundsRule,
) -> list[Finding]:
    element = bone.element
    least, greatest = bone.comparison_range_per_gpa
    upper, lower = (
        (f"as strong as in the strongest {comparison}", f"as strong as in the weakest {comparison}")
        if bounds == "range"
        else tuple(f"at the {end} end of the {comparison}s' {bounds}" for end in ("upper", "lower"))
    )
    used_rows = tuple(rows[animal.species] for animal in animals if animal.element == element)

    def finding(
        name: str, title: str, *, value: Quantity, formula: str, inputs: tuple[str, ...]
    ) -> Finding:
        return Finding(
            key=f"movement.{name}",
            step="movement",
            title=title,
            value=value,
            how=HowGot(formula=formula, inputs=inputs, rows=used_rows, sources=_SOURCES),
            n=bone.n_comparison,
            n_of=f"{comparison} species",
            caveats=caveats,
        )

    strength_inputs = (f"sections.modulus_over_arm.{element}", "choices.weight_on_legs")
    return [
        finding(
            f"indicator.{element}",
            f"Strength indicator, {element} ({comparison}s have {least:.3g} to {greatest:.3g})",
            value=Quantity(draws=bone.indicator_draws_per_gpa, unit="GPa^-1"),
            formula="Z / (a m g x)",
            inputs=(*strength_inputs, "judgement.mass"),
        ),
        finding(
            f"window.{element}.low",
            f"Mass at which the {element} is {upper}",
            value=Quantity(draws=bone.window_low_draws_kg, unit="kg"),
            formula=f"Z / (a g x S), S = {greatest:.3g} GPa^-1 ({upper})",
            inputs=strength_inputs,
        ),
        finding(
            f"window.{element}.high",
            f"Mass at which the {element} is {lower}",
            value=Quantity(draws=bone.window_high_draws_kg, unit="kg"),
            formula=f"Z / (a g x S), S = {least:.3g} GPa^-1 ({lower})",
            inputs=strength_inputs,
        ),
    ]
