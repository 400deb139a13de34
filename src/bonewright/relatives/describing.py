"""The relatives' findings, with how each was got and the reasons to trust it less."""

from collections.abc import Sequence

from bonewright.findings import Caveat, Exact, Finding, HowGot, RowRef, Statement
from bonewright.literature import PUBLICATIONS, cite
from bonewright.quantity import Draws, Quantity, format_amount
from bonewright.relatives.published_equations import outside_range_percent
from bonewright.relatives.results import BlindProofResult, LegBoneFit
from bonewright.relatives.retransformation import CORRECTIONS
from bonewright.study.model import MassEquation

__all__ = [
    "blind_findings",
    "chosen_finding",
    "fit_findings",
    "published_finding",
    "tree_finding",
]

_STEP = "relatives"
_FEW_SPECIES = 10
_NO_SCATTER = 1e-6


def fit_findings(fit: LegBoneFit, *, held_out: tuple[RowRef, ...]) -> tuple[Finding, ...]:
    """Describe one fit: the mass, its mean, the error; ``held_out`` rows would have fed it."""
    name, place = f"{fit.element} {fit.code}", f"{fit.element}.{fit.code}"
    caveats = _fit_caveats(fit, held_out=held_out)
    n = len(fit.species)
    meaning, sources = CORRECTIONS[fit.correction_name]
    mass = Finding(
        key=f"relatives.mass.{place}",
        step=_STEP,
        title=f"Body mass from {name}",
        value=Quantity(draws=fit.mass_draws_kg, unit="kg"),
        how=HowGot(
            formula=(
                f"ln(mass/kg) = {fit.intercept_ln:.3f} + {fit.slope:.3f} ln({fit.code}/mm), least"
                f" squares; R² {fit.r_squared:.3f}, s {fit.residual_sd_ln:.3f}; the draws are of"
                " one animal of a further species with the average bone (t prediction"
                " interval and the bone's own uncertainty), not moved by the correction"
            ),
            inputs=(f"skeleton.mean.{place}",),
            rows=fit.rows,
            sources=("DraperSmith1998",),
        ),
        n=n,
        n_of="species",
        caveats=caveats,
    )
    mean = Finding(
        key=f"relatives.mass_mean.{place}",
        step=_STEP,
        title=f"Mean body mass from {name}, point estimate",
        value=Exact(
            value=fit.mean_mass_kg,
            unit="kg",
            why_no_interval=f"A point estimate; its interval stands at relatives.mass.{place}.",
        ),
        how=HowGot(
            formula=(
                f"mass on the line at the average bone × {fit.correction_factor:.4f};"
                f" correction {fit.correction_name}: {meaning}"
            ),
            inputs=(f"skeleton.mean.{place}", "choices.retransformation"),
            rows=fit.rows,
            sources=sources,
        ),
        n=n,
        n_of="species",
        caveats=caveats,
    )
    error = Finding(
        key=f"relatives.error.{place}",
        step=_STEP,
        title=f"Leave-one-out error of {name}",
        value=Exact(
            value=fit.leave_one_out_error_percent,
            unit="%",
            why_no_interval="It is an error itself, the median over species.",
        ),
        how=HowGot(
            formula=(
                "median over species of 100 × |observed - predicted| / predicted, kg after"
                " correction, each predicted from the others; their 95 % intervals held"
                f" {fit.leave_one_out_coverage_percent:.0f} % of the species"
            ),
            inputs=("choices.retransformation",),
            rows=fit.rows,
            sources=("Smith1984",),
        ),
        n=n,
        n_of="species",
    )
    return mass, mean, error


def _fit_caveats(fit: LegBoneFit, *, held_out: tuple[RowRef, ...]) -> tuple[Caveat, ...]:
    caveats = [
        Caveat(
            code="kinship ignored",
            text=(
                "Species are taken for independent; close kin resemble each other, so that the"
                " interval may be too narrow."
            ),
        )
    ]
    if fit.outside_percent > 0:
        side = "larger" if fit.lost_bone_mm > float(fit.bone_mm.max()) else "smaller"
        text = (
            f"The bone is {format_amount(fit.outside_percent)} % {side} than that of any relative:"
            " the line is trusted beyond where it was seen."
        )
        caveats.append(Caveat(code="beyond relatives", text=text))
    if fit.residual_sd_ln < _NO_SCATTER:
        text = (
            "The relatives lie exactly on a line, as no animals do: the interval holds the bone's"
            " uncertainty alone. Check that their masses were weighed and not computed."
        )
        caveats.append(Caveat(code="no scatter", text=text))
    if len(fit.species) < _FEW_SPECIES:
        text = f"Only {len(fit.species)} species have this measurement."
        caveats.append(Caveat(code="few relatives", text=text))
    if held_out:
        text = "Not used, since they are probably mistakes or were set aside: " + ", ".join(
            ref.words() for ref in held_out
        )
        caveats.append(Caveat(code="held out", text=text + ".", rows=held_out))
    return tuple(caveats)


def chosen_finding(fit: LegBoneFit, *, n_fits: int) -> Finding:
    """Say which measurement is chosen, and why."""
    return Finding(
        key="relatives.chosen",
        step=_STEP,
        title="Single measurement that predicts mass best",
        value=Statement(
            text=(
                f"{fit.element} {fit.code}: relatives left out are foretold with the least root"
                f" mean square error of {n_fits} measurements (median error"
                f" {format_amount(fit.leave_one_out_error_percent)} %). As the best of several it"
                " is a little flattered."
            )
        ),
        how=HowGot(
            formula=(
                "least root mean square of leave-one-out errors of ln mass among measurements"
                " that enough species have; shown beside all bones together"
            ),
            inputs=(
                f"relatives.error.{fit.element}.{fit.code}",
                f"relatives.mass.{fit.element}.{fit.code}",
            ),
        ),
        n=n_fits,
        n_of="measurements",
    )


def blind_findings(
    proof: BlindProofResult | None, *, species: str, why_not: str, rows: Sequence[RowRef]
) -> tuple[Finding, ...]:
    """Say what the blind proof found, or why there is none."""
    how = HowGot(
        formula=(
            "the species is left out, lines and covariances refitted, and the 95 % prediction"
            " interval compared with the known mass; the bones of the joint model were chosen with"
            " it, the single measurement without; for the lost animal the species is put back"
        ),
        rows=tuple(rows),
    )
    if proof is None:
        return (
            Finding(
                key="relatives.blind_proof",
                step=_STEP,
                title="Blind proof",
                value=Statement(text=f"No blind proof on {species}: {why_not}"),
                how=how,
            ),
        )
    told, name = proof.predicted[proof.chosen], f"{proof.chosen[0]} {proof.chosen[1]}"
    if proof.joint is not None:
        told = (proof.joint.low_kg, proof.joint.middle_kg, proof.joint.high_kg)
        name = "the bones together"
    low, middle, high = (format_amount(value) for value in told)
    held = sum(low <= proof.known_mass_kg <= high for low, _, high in proof.predicted.values())
    text = (
        f"{proof.species} weighs {format_amount(proof.known_mass_kg)} kg. Left out and predicted"
        f" from {name}: about {middle} kg ({low} to {high}), which"
        f" {'holds' if proof.held else 'does not hold'} the known mass. Of"
        f" {len(proof.predicted)} single measurements, the intervals of {held} hold it."
    )
    caveats: tuple[Caveat, ...] = ()
    if not proof.held:
        warning = (
            f"The method missed {proof.species}: do not trust its interval for the lost"
            " animal before it is known why."
        )
        caveats = (Caveat(code="blind proof failed", text=warning, rows=tuple(rows)),)
    return (
        Finding(
            key="relatives.blind_proof",
            step=_STEP,
            title="Blind proof",
            value=Statement(text=text),
            how=how,
            n=len(proof.predicted),
            n_of="measurements",
            caveats=caveats,
        ),
    )


def tree_finding(missing: Sequence[str], extra: Sequence[str]) -> Finding:
    """Say how the tree and the table of relatives differ."""
    parts = []
    if missing:
        parts.append("The tree lacks " + ", ".join(missing) + ".")
    if extra:
        parts.append("The table of relatives lacks " + ", ".join(extra) + ".")
    text = " ".join(parts) or "The tree and the table of relatives hold the same species."
    return Finding(
        key="relatives.tree",
        step=_STEP,
        title="Tree and table of relatives",
        value=Statement(text=text),
        how=HowGot(
            formula="names compared; underscores are spaces, capitals do not count",
            inputs=("tree.file",),
        ),
    )


def published_finding(equation: MassEquation, mass_kg: Draws, *, bone_mm: float) -> Finding:
    """Describe the mass by a published equation, which is shown and not pooled."""
    caveats = []
    if equation.status == "from memory":
        text = "Coefficients recalled from memory, not confirmed in the publication."
        caveats.append(Caveat(code="coefficients not confirmed", text=text))
    outside = outside_range_percent(equation, bone_mm)
    if outside:
        side = "larger" if outside > 0 else "smaller"
        text = (
            f"The bone is {format_amount(abs(outside))} % {side} than any the equation was fitted"
            " to: out of its range, it is no more than a guess."
        )
        caveats.append(Caveat(code="outside published range", text=text))
    elif outside is None:
        text = "The sizes it was fitted to are not at hand, so it may be used out of its range."
        caveats.append(Caveat(code="range not known", text=text))
    if equation.standard_error_ln is None:
        caveats.append(
            Caveat(
                code="scatter not included",
                text=(
                    "The interval holds the uncertainty of the average bone only, not how animals"
                    " scatter about the published line; it is shown for comparison, not pooled."
                ),
            )
        )
    key = equation.source if equation.source in PUBLICATIONS else None
    where = cite(key) if key else f"{equation.source or 'no source given'}"
    return Finding(
        key=f"relatives.published.{equation.equation_id}",
        step=_STEP,
        title=(
            f"Body mass by a published equation for {equation.animals}"
            f" ({equation.element} {equation.code})"
        ),
        value=Quantity(draws=mass_kg, unit="kg"),
        how=HowGot(
            formula=f"{equation.printed}; {where} ({equation.status})",
            inputs=(f"skeleton.mean.{equation.element}.{equation.code}",),
            rows=() if equation.ref is None else (equation.ref,),
            sources=() if key is None else (key,),
        ),
        n=equation.n,
        n_of="animals or species" if equation.n is not None else "",
        caveats=tuple(caveats),
    )
