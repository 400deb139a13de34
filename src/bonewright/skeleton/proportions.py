"""Proportions: the bones against a standard, and the limbs against living relatives.

The log size index puts bones of all kinds on one scale: the logarithm (base 10) of a
measurement over the same measurement of a standard animal ([Meadow1999]_). 0 is the size
of the standard, 0.05 an eighth larger. Elements that lie apart from the rest are out of
the standard's proportions: a wing below the legs is a reduced wing.

Beside it stand ratios that do not lean on one standard: how the leg's length is shared
between its bones, the wing over the leg, the skull over the leg, each against every living
relative that has the bones.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from bonewright.findings import Caveat, Finding, HowGot, RowRef
from bonewright.quantity import Draws, Quantity
from bonewright.skeleton.average import AverageSkeleton
from bonewright.skeleton.ln_matrix import Code
from bonewright.study.model import Relative, RelativeMeasurement
from bonewright.study.schemas import ELEMENTS

__all__ = ["LimbRatio", "Proportions", "SizeIndex", "proportions_of"]

FEWEST_RELATIVES = 3
_LEG = (("femur", "GL"), ("tibiotarsus", "GL"), ("tarsometatarsus", "GL"))
_WING = (("humerus", "GL"), ("ulna", "GL"))
_RATIOS: tuple[tuple[str, str, tuple[Code, ...], tuple[Code, ...]], ...] = (
    ("femur_of_leg", "Femur, share of the leg", _LEG[:1], _LEG),
    ("tibiotarsus_of_leg", "Tibiotarsus, share of the leg", _LEG[1:2], _LEG),
    ("tarsometatarsus_of_leg", "Tarsometatarsus, share of the leg", _LEG[2:], _LEG),
    ("wing_over_leg", "Wing (humerus + ulna) over leg", _WING, _LEG),
    ("humerus_over_femur", "Humerus over femur", _WING[:1], _LEG[:1]),
    ("skull_over_leg", "Skull over leg", (("skull", "GL"),), _LEG),
    ("femur_girth", "Femur, circumference over length", (("femur", "CD"),), _LEG[:1]),
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SizeIndex:
    """Log size index of one element: individuals' values and draws of the average.

    ``individuals`` holds log10(length / standard), one a measurement and individual;
    ``draws`` (n_draws,) is the mean over the element's codes in the average skeleton.
    """

    element: str
    codes: tuple[str, ...]
    individuals: tuple[float, ...]
    draws: Draws
    rows: tuple[RowRef, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LimbRatio:
    """One ratio of lengths: the average animal's draws beside living relatives.

    ``relatives`` holds species, ratio, and whether it flies.
    """

    key: str
    title: str
    draws: Draws
    relatives: tuple[tuple[str, float, bool], ...]
    rows: tuple[RowRef, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Proportions:
    """Size indices by element against ``standard``, and the ratios that bones allow."""

    standard: str
    chosen: bool
    indices: tuple[SizeIndex, ...]
    ratios: tuple[LimbRatio, ...]
    findings: tuple[Finding, ...]


def proportions_of(
    skeleton: AverageSkeleton,
    *,
    relatives: tuple[Relative, ...],
    relative_measurements: tuple[RelativeMeasurement, ...],
    standard: str | None,
    out: frozenset[tuple[str, str]],
) -> Proportions:
    """Compare the average skeleton with a standard and with living relatives.

    Parameters
    ----------
    skeleton : AverageSkeleton
    relatives, relative_measurements
        Living species and their bones, mm.
    standard : str, optional
        A species, an individual or a bone of the study. If it is not given or has no
        shared measurement, the relative that shares most and is nearest in size is taken.
    out : set of (table, row id)
        Rows not to be used.
    """
    by_species: dict[str, dict[Code, float]] = {}
    rows: dict[str, list[RowRef]] = {}
    for row in relative_measurements:
        if (row.ref.table, row.ref.row_id) not in out:
            by_species.setdefault(row.species, {})[row.element, row.code] = row.value_mm
            rows.setdefault(row.species, []).append(row.ref)
    name, lengths, chosen = _standard(skeleton, by_species, standard)
    indices = _indices(skeleton, lengths)
    flies = {row.species: row.flight == "flying" for row in relatives}
    ratios = tuple(
        ratio
        for key, title, over, under in _RATIOS
        if (ratio := _ratio(skeleton, by_species, flies, key, title, over=over, under=under))
    )
    standard_rows = tuple(rows.get(name, ()))
    return Proportions(
        standard=name,
        chosen=chosen,
        indices=indices,
        ratios=ratios,
        findings=(
            *_index_findings(indices, name, standard, chosen=chosen, rows=standard_rows),
            *(_ratio_finding(ratio) for ratio in ratios),
        ),
    )


def _standard(
    skeleton: AverageSkeleton, by_species: Mapping[str, Mapping[Code, float]], wanted: str | None
) -> tuple[str, Mapping[Code, float], bool]:
    """Return the standard's name and lengths, and whether it is the one asked for."""
    if wanted is not None:
        lengths = by_species.get(wanted) or _of_specimens(skeleton, wanted)
        if set(lengths) & set(skeleton.means):
            return wanted, lengths, True
    ours = {key: float(np.log(mean.mean_mm)) for key, mean in skeleton.means.items()}

    def merit(species: str) -> tuple[int, float]:
        shared = [code for code in by_species[species] if code in ours]
        off = [abs(np.log(by_species[species][code]) - ours[code]) for code in shared]
        return len(shared), -float(np.mean(off)) if off else 0.0

    if not by_species:
        return "", {}, False
    best = max(sorted(by_species), key=merit)
    return best, by_species[best], False


def _of_specimens(skeleton: AverageSkeleton, name: str) -> dict[Code, float]:
    """Return the lengths of an individual or bone of the study, mm (its bones averaged)."""
    members: dict[Code, list[float]] = {}
    for row in skeleton.sorted_rows.measurements:
        bone = skeleton.sorted_rows.grown_bones.get(row.specimen_id)
        if bone is not None and name in (row.specimen_id, bone.specimen.individual_id):
            members.setdefault((bone.specimen.element, row.code), []).append(row.value_mm)
    return {code: float(np.mean(values)) for code, values in members.items()}


def _indices(skeleton: AverageSkeleton, lengths: Mapping[Code, float]) -> tuple[SizeIndex, ...]:
    indices = []
    for element in ELEMENTS:
        shared = [key for key in skeleton.means if key[0] == element and key in lengths]
        if not shared:
            continue
        means = [skeleton.means[key] for key in shared]
        indices.append(
            SizeIndex(
                element=element,
                codes=tuple(code for _, code in shared),
                individuals=tuple(
                    float(np.log10(value / lengths[key]))
                    for key, mean in zip(shared, means, strict=True)
                    for value in mean.individuals_mm
                ),
                draws=np.mean(
                    [
                        np.log10(mean.mean_draws_mm / lengths[key])
                        for key, mean in zip(shared, means, strict=True)
                    ],
                    axis=0,
                ),
                rows=tuple(ref for mean in means for ref in mean.rows),
            )
        )
    return tuple(indices)


def _ratio(
    skeleton: AverageSkeleton,
    by_species: Mapping[str, Mapping[Code, float]],
    flies: Mapping[str, bool],
    key: str,
    title: str,
    *,
    over: Iterable[Code],
    under: Iterable[Code],
) -> LimbRatio | None:
    upper, lower = tuple(over), tuple(under)
    if not all(code in skeleton.means for code in (*upper, *lower)):
        return None
    living = tuple(
        (
            species,
            sum(lengths[code] for code in upper) / sum(lengths[code] for code in lower),
            flies.get(species, False),
        )
        for species, lengths in sorted(by_species.items())
        if all(code in lengths for code in (*upper, *lower))
    )
    if len(living) < FEWEST_RELATIVES:
        return None
    draws = [
        np.sum([skeleton.means[code].mean_draws_mm for code in codes], axis=0)
        for codes in (upper, lower)
    ]
    return LimbRatio(
        key=key,
        title=title,
        draws=draws[0] / draws[1],
        relatives=living,
        rows=tuple(
            ref for code in dict.fromkeys((*upper, *lower)) for ref in skeleton.means[code].rows
        ),
    )


def _index_findings(
    indices: tuple[SizeIndex, ...],
    name: str,
    wanted: str | None,
    *,
    chosen: bool,
    rows: tuple[RowRef, ...],
) -> tuple[Finding, ...]:
    if not indices:
        return ()
    caveats: tuple[Caveat, ...] = ()
    if not chosen:
        text = (
            f"No standard is chosen in study.toml ([proportions]), so that {name} is taken: it"
            " shares most measurements and is nearest in size."
            if wanted is None
            else f"'{wanted}' has no measurement in common with the average skeleton, so that"
            f" {name} is taken."
        )
        caveats = (Caveat(code="standard not chosen", text=text),)
    return tuple(
        Finding(
            key=f"skeleton.log_size_index.{index.element}",
            step="skeleton",
            title=f"Log size index of the {index.element} against {name}",
            value=Quantity(draws=index.draws, unit="1"),
            how=HowGot(
                formula=(
                    "mean over codes of log10(average length / length of the standard); codes: "
                    + ", ".join(index.codes)
                ),
                inputs=tuple(f"skeleton.mean.{index.element}.{code}" for code in index.codes),
                rows=rows,
                sources=("Meadow1999",),
            ),
            n=len(index.individuals),
            n_of="measurements of individuals",
            caveats=caveats,
        )
        for index in indices
    )


def _ratio_finding(ratio: LimbRatio) -> Finding:
    values = np.array([value for _, value, _ in ratio.relatives])
    median = float(np.median(ratio.draws))
    below, n = int(np.sum(values < median)), len(values)
    caveats: tuple[Caveat, ...] = ()
    if below in (0, n):
        where = "below" if below == 0 else "above"
        text = f"The middle estimate lies {where} every one of the {n} living relatives."
        caveats = (Caveat(code="outside relatives", text=text),)
    return Finding(
        key=f"skeleton.proportion.{ratio.key}",
        step="skeleton",
        title=ratio.title,
        value=Quantity(draws=ratio.draws, unit="1"),
        how=HowGot(
            formula=(
                "ratio of summed average lengths, world by world; relatives have"
                f" {np.min(values):.3g} to {np.max(values):.3g}, {below} of {n} of them less"
            ),
            rows=ratio.rows,
        ),
        n=n,
        n_of="living relatives",
        caveats=caveats,
    )
