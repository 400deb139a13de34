"""Whether two sizes show in the bones, as a finding."""

from math import exp

from bonewright.findings import Caveat, Exact, Finding, HowGot, Statement
from bonewright.skeleton.joint_average import AverageChoice, JointAverage

__all__ = ["TOLD_APART", "sexes_findings"]

TOLD_APART = 0.05
"""Chance below which two sizes are said to show."""


def sexes_findings(joint: JointAverage | None, choice: AverageChoice) -> tuple[Finding, ...]:
    """Describe the test of one size against two, and whether the average leans to a sex."""
    if joint is None or joint.sexes is None:
        return ()
    found = joint.sexes
    gap = 100 * (exp(abs(found.gap_ln)) - 1)
    told = list(joint.sex_of_row.values())
    counts = {sex: told.count(sex) for sex in ("female", "male")}
    larger = {"female": "females", "male": "males"}.get(joint.larger_sex or "", "the larger")
    if found.p_value < TOLD_APART:
        text = (
            f"Two sizes show: {larger} are about {gap:.0f} % larger"
            f" (p = {found.p_value:.2g}); {100 * found.within_sd_ln:.1f} % is the spread within"
            " either."
        )
    else:
        text = (
            f"No two sizes can be told from one (p = {found.p_value:.2g}). That none is shown"
            " does not mean that the sexes were alike."
        )
    if all(counts.values()):
        text += f" Sex is known of {counts['female']} females and {counts['male']} males."
    how = HowGot(
        formula=(
            "ln likelihood of two bell curves of sizes against one, judged against"
            f" {found.n_simulated} studies simulated from one (parametric bootstrap); known"
            " sexes are labels"
        ),
        sources=("McLachlan1987",),
    )
    caveats: tuple[Caveat, ...] = ()
    share = found.share_larger if found.gap_ln >= 0 else 1 - found.share_larger
    if found.p_value < TOLD_APART and not choice.needs_two_sizes and abs(share - 0.5) > 0.1:
        lean = "larger" if share > 0.5 else "smaller"
        text_of_caveat = (
            f"About {100 * max(share, 1 - share):.0f} % of the individuals found are of the"
            f" {lean} sex, so that the average leans to it. Choose average_sexes ="
            ' "both alike" in study.toml to have the middle of the two.'
        )
        caveats = (Caveat(code="sexes uneven", text=text_of_caveat),)
    return (
        Finding(
            key="skeleton.sexes",
            step="skeleton",
            title="One size or two",
            value=Statement(text=text),
            how=how,
            n=len(found.chance_larger),
            n_of="individuals",
            caveats=caveats,
        ),
        Finding(
            key="skeleton.sexes.p",
            step="skeleton",
            title="Chance that one size alone looks so much like two",
            value=Exact(
                value=found.p_value, unit="1", why_no_interval="It is a test's probability."
            ),
            how=how,
            n=len(found.chance_larger),
            n_of="individuals",
        ),
    )
