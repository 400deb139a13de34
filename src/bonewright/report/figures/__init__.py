"""Figures, each a function from a step's result to one chart.

Page, PDF and HTML report use the same chart object; only the frame around it differs.
"""

from typing import TYPE_CHECKING, TypeVar

from bonewright.errors import BonewrightError
from bonewright.quantity import Quantity
from bonewright.report.figures import body as body_figures
from bonewright.report.figures import bone_curves as curves
from bonewright.report.figures import evidence as evidence_figures
from bonewright.report.figures import joint as joint_figures
from bonewright.report.figures import mass_window as window_figures
from bonewright.report.figures import masses, proportions, skeleton, standing_body
from bonewright.report.figures import mount_audit as audit_figures
from bonewright.report.figures import mount_drawing as mount_figures
from bonewright.report.figures import movement as movement_figures
from bonewright.report.figures import relatives as relatives_figures
from bonewright.report.figures import sections as sections_figures
from bonewright.report.figures import stresses as stress_figures
from bonewright.report.figures import testimony as testimony_figures
from bonewright.report.figures.figure import Chart, Figure, FigureSpec
from bonewright.report.judgement_tables import all_options

if TYPE_CHECKING:
    from bonewright.body.grown import GrownBody
    from bonewright.findings import Finding
    from bonewright.pipeline import Run
    from bonewright.relatives.leg_bones import BlindProofResult
    from bonewright.relatives.results import JointLine

__all__ = ["FIGURES", "Chart", "Figure", "FigureSpec", "figures_for"]

_Answer = TypeVar("_Answer")


def _given(answer: _Answer | None) -> _Answer:
    if answer is None:
        raise BonewrightError(
            "This figure shows a step that has no answer yet.",
            remedy="Ask for the figures of a run with figures_for.",
        )
    return answer


def _grown(run: "Run") -> "GrownBody":
    return _given(_given(run.body).grown)


def _flight(run: "Run") -> dict[str, str]:
    return {relative.species: relative.flight for relative in run.study.relatives}


def _published(run: "Run") -> "tuple[Finding, ...]":
    return tuple(
        finding
        for finding in run.findings
        if finding.key.startswith("relatives.published")
        and isinstance(finding.value, Quantity)
        and finding.value.unit == "kg"
    )


def _proof(run: "Run") -> "BlindProofResult | None":
    return None if run.relatives is None else run.relatives.blind_proof


def _joint(run: "Run") -> "JointLine | None":
    return None if run.relatives is None else run.relatives.joint


def _has_timeline(run: "Run") -> bool:
    testimony = run.testimony
    return testimony is not None and (
        bool(testimony.claims) or any(picture.score is not None for picture in testimony.pictures)
    )


_SPECS = (
    FigureSpec(
        key="mass_lines",
        step="judgement",
        title="Every line of evidence on body mass",
        present=lambda run: run.pooled is not None,
        chart_fn=lambda run: masses.mass_lines(
            _given(run.pooled), run.movement, run.testimony, further=_published(run)
        ),
        caption_fn=lambda run: masses.mass_lines_caption(
            _given(run.pooled), run.movement, run.testimony, further=_published(run)
        ),
        alt_fn=lambda run: masses.mass_lines_words(_given(run.pooled), run.movement, run.testimony),
    ),
    FigureSpec(
        key="skeleton_means",
        step="skeleton",
        title="Individuals around the average skeleton",
        present=lambda run: run.skeleton is not None and bool(run.skeleton.means),
        chart_fn=lambda run: skeleton.skeleton_means(_given(run.skeleton)),
        caption_fn=lambda run: skeleton.skeleton_means_caption(_given(run.skeleton)),
        alt_fn=lambda run: skeleton.skeleton_means_words(_given(run.skeleton)),
    ),
    FigureSpec(
        key="size_index",
        step="skeleton",
        title="Log size index of each element",
        present=lambda run: run.proportions is not None and bool(run.proportions.indices),
        chart_fn=lambda run: proportions.size_index(_given(run.proportions)),
        caption_fn=lambda run: proportions.size_index_caption(_given(run.proportions)),
        alt_fn=lambda run: proportions.size_index_words(_given(run.proportions)),
    ),
    FigureSpec(
        key="limb_proportions",
        step="skeleton",
        title="Proportions beside living relatives",
        present=lambda run: run.proportions is not None and bool(run.proportions.ratios),
        chart_fn=lambda run: proportions.limb_proportions(_given(run.proportions)),
        caption_fn=lambda run: proportions.limb_proportions_caption(_given(run.proportions)),
        alt_fn=lambda run: proportions.limb_proportions_words(_given(run.proportions)),
    ),
    FigureSpec(
        key="foretold_relatives",
        step="relatives",
        title="Relatives of known mass, foretold by the leg bones together",
        present=lambda run: _joint(run) is not None,
        chart_fn=lambda run: joint_figures.foretold_relatives(_given(_joint(run))),
        caption_fn=lambda run: joint_figures.foretold_relatives_caption(_given(_joint(run))),
        alt_fn=lambda run: joint_figures.foretold_relatives_words(_given(_joint(run))),
    ),
    FigureSpec(
        key="leg_bone_fits",
        step="relatives",
        title="Body mass against leg bones of living relatives",
        present=lambda run: run.relatives is not None and bool(run.relatives.fits),
        chart_fn=lambda run: relatives_figures.leg_bone_fits(
            _given(run.relatives), flight=_flight(run)
        ),
        caption_fn=lambda run: relatives_figures.leg_bone_fits_caption(_given(run.relatives)),
        alt_fn=lambda run: relatives_figures.leg_bone_fits_words(_given(run.relatives)),
    ),
    FigureSpec(
        key="leave_one_out_errors",
        step="relatives",
        title="How well each leg bone foretells a relative left out",
        present=lambda run: run.relatives is not None and bool(run.relatives.fits),
        chart_fn=lambda run: relatives_figures.leave_one_out_errors(_given(run.relatives)),
        caption_fn=lambda run: relatives_figures.leave_one_out_errors_caption(
            _given(run.relatives)
        ),
        alt_fn=lambda run: relatives_figures.leave_one_out_errors_words(_given(run.relatives)),
    ),
    FigureSpec(
        key="blind_proof",
        step="relatives",
        title="The blind proof: a living relative of known mass",
        present=lambda run: _proof(run) is not None,
        chart_fn=lambda run: relatives_figures.blind_proof(_given(_proof(run))),
        caption_fn=lambda run: relatives_figures.blind_proof_caption(_given(_proof(run))),
        alt_fn=lambda run: relatives_figures.blind_proof_words(_given(_proof(run))),
    ),
    FigureSpec(
        key="section_outlines",
        step="sections",
        title="The bone sections, drawn to one scale",
        present=lambda run: (
            run.sections is not None and bool(sections_figures.lost_sections(run.sections))
        ),
        chart_fn=lambda run: sections_figures.section_outlines(_given(run.sections)),
        caption_fn=lambda run: sections_figures.section_outlines_caption(_given(run.sections)),
        alt_fn=lambda run: sections_figures.section_outlines_words(_given(run.sections)),
        drawing=True,
    ),
    FigureSpec(
        key="standing_body",
        step="body",
        title="The body grown from the skeleton, standing",
        present=lambda run: run.body is not None and run.body.grown is not None,
        chart_fn=lambda run: standing_body.standing_body(_grown(run)),
        caption_fn=lambda run: standing_body.standing_body_caption(_grown(run)),
        alt_fn=lambda run: standing_body.standing_body_words(_grown(run)),
        drawing=True,
    ),
    FigureSpec(
        key="fat_states",
        step="body",
        title="Lean, average and fat",
        present=lambda run: run.body is not None and run.body.grown is not None,
        chart_fn=lambda run: standing_body.fat_states(_grown(run)),
        caption_fn=lambda run: standing_body.fat_states_caption(_grown(run)),
        alt_fn=lambda run: standing_body.fat_states_words(_grown(run)),
        drawing=True,
    ),
    FigureSpec(
        key="bone_curves",
        step="sections",
        title="Bones sectioned all along their length",
        present=lambda run: run.sections is not None and bool(curves.whole_bones(run.sections)),
        chart_fn=lambda run: curves.bone_curves(_given(run.sections)),
        caption_fn=lambda run: curves.bone_curves_caption(_given(run.sections)),
        alt_fn=lambda run: curves.bone_curves_words(_given(run.sections)),
    ),
    FigureSpec(
        key="maquette",
        step="body",
        title="Volume and mass of the modelled body",
        present=lambda run: run.body is not None and bool(run.body.maquettes),
        chart_fn=lambda run: body_figures.maquette(_given(run.body)),
        caption_fn=lambda run: body_figures.maquette_caption(_given(run.body)),
        alt_fn=lambda run: body_figures.maquette_words(_given(run.body)),
    ),
    FigureSpec(
        key="strength",
        step="movement",
        title="Strength of the leg bones beside living animals",
        present=lambda run: run.movement is not None,
        chart_fn=lambda run: movement_figures.strength(
            _given(run.movement), comparison=run.study.settings.choices.comparison
        ),
        caption_fn=lambda run: movement_figures.strength_caption(_given(run.movement)),
        alt_fn=lambda run: movement_figures.strength_words(_given(run.movement)),
    ),
    FigureSpec(
        key="mass_window",
        step="movement",
        title="The masses at which the legs match living animals",
        present=lambda run: run.movement is not None and run.pooled is not None,
        chart_fn=lambda run: window_figures.mass_window(
            _given(run.movement), _given(run.pooled), run.testimony, further=_published(run)
        ),
        caption_fn=lambda run: window_figures.mass_window_caption(_given(run.movement)),
        alt_fn=lambda run: window_figures.mass_window_words(_given(run.movement)),
    ),
    FigureSpec(
        key="stresses",
        step="movement",
        title="Peak stresses in the leg bones",
        present=lambda run: run.legs is not None and bool(run.legs.stresses),
        chart_fn=lambda run: stress_figures.stresses(_given(run.legs)),
        caption_fn=lambda run: stress_figures.stresses_caption(_given(run.legs)),
        alt_fn=lambda run: stress_figures.stresses_words(_given(run.legs)),
    ),
    FigureSpec(
        key="timeline",
        step="testimony",
        title="Pictures and accounts in order of date",
        present=_has_timeline,
        chart_fn=lambda run: testimony_figures.timeline(
            _given(run.testimony), folder=run.study.folder
        ),
        caption_fn=lambda run: testimony_figures.timeline_caption(_given(run.testimony)),
        alt_fn=lambda run: testimony_figures.timeline_words(_given(run.testimony)),
    ),
    FigureSpec(
        key="mount_audit",
        step="testimony",
        title="The earlier mount, measure by measure",
        present=lambda run: run.testimony is not None and bool(run.testimony.mount),
        chart_fn=lambda run: audit_figures.mount_audit(_given(run.testimony)),
        caption_fn=lambda run: audit_figures.mount_audit_caption(_given(run.testimony)),
        alt_fn=lambda run: audit_figures.mount_audit_words(_given(run.testimony)),
    ),
    FigureSpec(
        key="mount_bones",
        step="testimony",
        title="Bones of the right length over the earlier mount",
        present=lambda run: (
            run.testimony is not None and bool(mount_figures.photographs_of_mount(run.testimony))
        ),
        chart_fn=lambda run: mount_figures.mount_drawing(_given(run.testimony)),
        caption_fn=lambda run: mount_figures.mount_drawing_caption(_given(run.testimony)),
        alt_fn=lambda run: mount_figures.mount_drawing_words(_given(run.testimony)),
        drawing=True,
    ),
    FigureSpec(
        key="leave_one_line_out",
        step="judgement",
        title="The verdict without each line of evidence",
        present=lambda run: run.pooled is not None and bool(run.pooled.without),
        chart_fn=lambda run: masses.leave_one_line_out(_given(run.pooled)),
        caption_fn=lambda run: masses.leave_one_line_out_caption(_given(run.pooled)),
        alt_fn=lambda run: masses.leave_one_line_out_words(_given(run.pooled)),
    ),
    FigureSpec(
        key="evidence_ground",
        step="judgement",
        title="What every estimate rests on",
        present=lambda run: run.case is not None and bool(run.case.nodes),
        chart_fn=lambda run: evidence_figures.ground(_given(run.case)),
        caption_fn=lambda run: evidence_figures.ground_caption(_given(run.case)),
        alt_fn=lambda run: evidence_figures.ground_words(_given(run.case)),
    ),
    FigureSpec(
        key="pooling_options",
        step="judgement",
        title="The verdict under every way to pool",
        present=lambda run: len(all_options(run)) > 1,
        chart_fn=lambda run: evidence_figures.options(all_options(run)),
        caption_fn=lambda run: evidence_figures.options_caption(_given(run.pooled)),
        alt_fn=lambda run: evidence_figures.options_words(all_options(run)),
    ),
    FigureSpec(
        key="hypotheses",
        step="judgement",
        title="Rival hypotheses of its condition",
        present=lambda run: (
            run.case is not None and any(item.masses_kg for item in run.case.hypotheses)
        ),
        chart_fn=lambda run: evidence_figures.hypotheses(_given(run.case), _given(run.pooled)),
        caption_fn=lambda run: evidence_figures.hypotheses_caption(_given(run.case)),
        alt_fn=lambda run: evidence_figures.hypotheses_words(_given(run.case)),
    ),
)

FIGURES: dict[str, FigureSpec] = {spec.key: spec for spec in _SPECS}
"""Every figure by key, in the order of the report."""


def figures_for(run: "Run", *, step: str | None = None) -> tuple[Figure, ...]:
    """Return the figures a run has the answers for, of one ``step`` or of all."""
    return tuple(
        spec.of(run)
        for spec in FIGURES.values()
        if (step is None or spec.step == step) and spec.present(run)
    )
