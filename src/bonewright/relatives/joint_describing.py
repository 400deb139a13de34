"""The joint line's findings: the mass, its mean, the choice and its proof."""

import numpy as np

from bonewright.findings import Caveat, Exact, Finding, HowGot, RowRef, Statement
from bonewright.quantity import Quantity, format_amount
from bonewright.relatives.results import JointLine, JointTrial, ProofScore

__all__ = ["joint_findings", "trial_words"]

_STEP = "relatives"
_KEY = "relatives.mass.joint"
_FEW_SPECIES = 15
_UNLIKE_P = 0.01
_FAR_OUT_PERCENT = 30.0
_FAILS_BELOW_PERCENT = 80.0
_SOURCES = ("Felsenstein1985", "GarlandIves2000", "Lange1989")


def joint_findings(
    line: JointLine | None,
    *,
    why_not: str,
    held_out: tuple[RowRef, ...],
) -> tuple[Finding, ...]:
    """Describe the joint line, or say why there is none."""
    if line is None:
        return (
            Finding(
                key="relatives.joint",
                step=_STEP,
                title="Leg bones together",
                value=Statement(
                    text=f"No joint prediction: {why_not} The best single measurement stands in."
                ),
                how=HowGot(formula="several leg bones fitted together over the relatives' tree"),
            ),
        )
    caveats = _caveats(line, held_out)
    inputs = tuple(f"skeleton.mean.{element}.{code}" for element, code in line.bones)
    mass = Finding(
        key=_KEY,
        step=_STEP,
        title=f"Body mass from the leg bones together ({trial_words(line.trial)})",
        value=Quantity(draws=line.mass_draws_kg, unit="kg"),
        how=HowGot(
            formula=(
                "ln bones on ln mass, deviations by descent and of each species' own both free to"
                " covary over bones, fitted by restricted likelihood with t10 tails and read back"
                " at the animal's place; as a member of its kin below the heaviest tenth of"
                f" relatives, without its kin above (here {line.heavy_percent:.0f} % without);"
                f" {_tree_words(line)}"
            ),
            inputs=(*inputs, "tree.file"),
            rows=line.rows,
            sources=_SOURCES,
        ),
        n=len(line.species),
        n_of="species",
        caveats=caveats,
    )
    mean = Finding(
        key="relatives.mass_mean.joint",
        step=_STEP,
        title="Mean body mass from the leg bones together, point estimate",
        value=Exact(
            value=float(np.mean(line.mass_draws_kg)),
            unit="kg",
            why_no_interval=f"A point estimate; its interval stands at {_KEY}.",
        ),
        how=HowGot(
            formula=(
                "mean of the draws: scatter, lines and place are all in them, so that no further"
                " correction for the logarithm is due"
            ),
            inputs=(_KEY,),
            sources=("Baskerville1972", "Duan1983", "Smith1993"),
        ),
        n=len(line.species),
        n_of="species",
        caveats=caveats,
    )
    return mass, mean, _choice(line), _proof(line)


def trial_words(trial: JointTrial) -> str:
    """Say a candidate: its bones, and its group."""
    return trial.name + (f"; {trial.group} apart" if trial.group else "")


def _tree_words(line: JointLine) -> str:
    if line.n_trees == 0:
        return line.placed
    trees = "one tree" if line.n_trees == 1 else f"{line.n_trees} trees, the draws shared out"
    return f"{trees}; the animal hung {line.placed}"


def _caveats(line: JointLine, held_out: tuple[RowRef, ...]) -> tuple[Caveat, ...]:
    found: list[tuple[str, str, tuple[RowRef, ...]]] = []
    if line.n_trees == 0:
        text = "No tree: species are taken for independent, so that the interval may be too narrow."
        found.append(("kinship ignored", text, ()))
    elif "root" in line.placed:
        text = (
            "The animal hangs at the root of the tree, since study.toml does not say beside which"
            " species it stands: what its own kin have in common is not used."
        )
        found.append(("place unknown", text, ()))
    median = float(np.median(line.mass_draws_kg))
    if median > line.heaviest_kg:
        beyond = 100 * (median / line.heaviest_kg - 1)
        text = (
            f"About {format_amount(beyond)} % heavier than the heaviest relative: the lines are"
            " trusted beyond where they were seen, and the interval is widened for it."
        )
        found.append(("beyond relatives", text, ()))
    if line.lines_percent > _FAR_OUT_PERCENT:
        text = (
            f"{line.lines_percent:.0f} % of the variance comes from the lines themselves: the"
            " animal lies far from where the relatives fix them."
        )
        found.append(("high leverage", text, ()))
    if line.misfit_p < _UNLIKE_P:
        share = max(line.misfit_p, 1e-4)
        text = (
            f"Its bones disagree on its mass as fewer than {100 * share:.2g} % of relatives' would:"
            " its legs were built unlike any relative's."
        )
        found.append(("unlike relatives", text, ()))
    if len(line.species) < _FEW_SPECIES:
        text = f"Only {len(line.species)} species have all of these bones."
        found.append(("few relatives", text, ()))
    worst = min(line.trial.tests, key=lambda test: test.coverage_percent)
    if worst.coverage_percent < _FAILS_BELOW_PERCENT and worst.n >= 5:
        text = (
            f"Tried on relatives ({worst.name}), the 95 % intervals held only"
            f" {worst.coverage_percent:.0f} % of {worst.n}."
        )
        found.append(("proof failed", text, ()))
    if held_out:
        text = "Not used, since they are probably mistakes or were set aside: " + ", ".join(
            ref.words() for ref in held_out
        )
        found.append(("held out", text + ".", held_out))
    return tuple(Caveat(code=code, text=text, rows=rows) for code, text, rows in found)


def _choice(line: JointLine) -> Finding:
    others = sorted((trial for trial in line.trials if trial is not line.trial), key=_by_score)
    text = f"{trial_words(line.trial).capitalize()}: foretold known relatives best"
    if others:
        behind = line.trial.score - others[0].score
        text += (
            f" of {len(line.trials)} candidates; next, {trial_words(others[0])},"
            f" {format_amount(abs(behind))} behind in mean log score"
        )
    return Finding(
        key="relatives.joint.choice",
        step=_STEP,
        title="Bones that enter together",
        value=Statement(text=text + ". As the best of several it is a little flattered."),
        how=HowGot(
            formula=(
                "greatest mean log density of known ln masses, over relatives left out by quarters,"
                " by families, and the heaviest fifth, everything refitted each time"
            ),
            inputs=(_KEY,),
        ),
        n=len(line.trials),
        n_of="candidates",
    )


def _by_score(trial: JointTrial) -> float:
    return -trial.score


def _proof(line: JointLine) -> Finding:
    text = " ".join(_test_words(test) for test in line.trial.tests)
    return Finding(
        key="relatives.joint.proof",
        step=_STEP,
        title="The joint prediction tried on relatives of known mass",
        value=Statement(text=text),
        how=HowGot(
            formula=(
                "median of |predicted - known| / known; geometric mean of predicted over known;"
                " share of known masses inside the 95 % intervals"
            ),
            inputs=(_KEY,),
            rows=line.rows,
        ),
        n=len(line.species),
        n_of="species",
    )


def _test_words(test: ProofScore) -> str:
    return (
        f"{test.name.capitalize()} ({test.n} species): median error"
        f" {format_amount(test.error_percent)} %, predicted over known"
        f" {test.mean_ratio:.2f}, intervals hold {test.coverage_percent:.0f} %."
    )
