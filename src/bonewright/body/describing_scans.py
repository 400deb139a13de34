"""Scanned bodies as findings, with what was mended on each scan."""

from collections.abc import Mapping, Sequence

from bonewright.body.as_finding import body_finding
from bonewright.body.scans import HULL_MULTIPLIER, ScannedBody
from bonewright.findings import Caveat, Doubt, Finding, HowGot, Statement

__all__ = ["scan_findings"]


def scan_findings(
    scans: Mapping[str, ScannedBody],
    *,
    doubts: Sequence[Doubt],
    refused: Mapping[str, str],
) -> tuple[Finding, ...]:
    """Describe each scanned body, what was mended on its scan, and the scans refused."""
    held_out = tuple(doubt.ref for doubt in doubts if doubt.held_out)
    findings = []
    for name, scan in scans.items():
        caveats = []
        if scan.repairs:
            caveats.append(
                Caveat(
                    code="scan mended",
                    text="The scan was mended: " + "; ".join(scan.repairs) + ".",
                    rows=scan.rows,
                )
            )
        hull = scan.kind == "skeleton"
        if hull:
            caveats.append(
                Caveat(
                    code="multiplier of mammals",
                    text=f"The multiplier {HULL_MULTIPLIER[0]:g} was found on 14 mammals; no value"
                    f" for birds is at hand, so the range {HULL_MULTIPLIER[1]:g} to"
                    f" {HULL_MULTIPLIER[2]:g} is a guess (common practice).",
                )
            )
        else:
            caveats.append(
                Caveat(
                    code="modeller's eye",
                    text="How much flesh the scanned model carries is one modeller's judgement;"
                    " the interval holds only what study.toml allows for it.",
                )
            )
        if held_out:
            caveats.append(
                Caveat(
                    code="rows held out",
                    text="Doubtful scans are left out until you decide about them: "
                    + "; ".join(ref.words() for ref in held_out)
                    + ".",
                    rows=held_out,
                )
            )
        findings.append(
            body_finding(
                f"scan.mass.{name.replace(' ', '_')}",
                f"Body mass from the scan of {name}"
                + (" (hulls of its skeleton)" if hull else f" ({scan.state})"),
                scan.mass_draws_kg,
                "kg",
                formula=(
                    f"volume of the convex hulls, {scan.volume_m3 * 1000:.4g} L, x"
                    f" {HULL_MULTIPLIER[0]:g} x body density"
                    if hull
                    else f"volume enclosed at life size, {scan.volume_m3 * 1000:.4g} L, x body"
                    " density x (1 + what the shape may be off)"
                ),
                inputs=("choices.body_density",)
                + (() if hull else ("choices.maquette_shape_percent",)),
                rows=scan.rows,
                sources=("Sellers2012",) if hull else (),
                caveats=tuple(caveats),
            )
        )
    findings += [
        Finding(
            key=f"body.scan.refused.{name.replace(' ', '_')}",
            step="body",
            title=f"Scan of {name} not used",
            value=Statement(text=why),
            how=HowGot(formula="a surface must be closed to enclose a volume"),
        )
        for name, why in refused.items()
    ]
    return tuple(findings)
