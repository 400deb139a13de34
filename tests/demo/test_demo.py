"""The tool recovers the hidden truth of the demo study within its own intervals.

One invented world, drawn once with a fixed seed: this shows that nothing is lost on the
way from tables to verdict. It is no proof of coverage; that needs many worlds.
"""

import filecmp
import subprocess
import sys
from collections import Counter
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from bonewright.findings import Exact
from bonewright.pipeline import STEPS, Run
from bonewright.quantity import Quantity
from bonewright.testimony.witnesses import ChangePoint

ROOT = Path(__file__).resolve().parents[2]
Truth = dict[str, Any]


def _interval95(draws: np.ndarray) -> tuple[float, float]:
    low, high = np.quantile(draws, [0.025, 0.975])
    return float(low), float(high)


def _holds(draws: np.ndarray, value: float) -> bool:
    low, high = _interval95(draws)
    return low <= value <= high


def test_generator_writes_the_committed_demo_byte_for_byte(tmp_path: Path) -> None:
    demo, truth = tmp_path / "demo", tmp_path / "truth.toml"
    subprocess.run(  # noqa: S603 - our own script, our own arguments
        [sys.executable, ROOT / "tools/make_demo.py", "--demo", demo, "--truth", truth],
        check=True,
        capture_output=True,
    )
    assert truth.read_bytes() == (ROOT / "tests/demo/hidden_truth.toml").read_bytes()
    made = sorted(p.relative_to(demo).as_posix() for p in demo.rglob("*") if p.is_file())
    kept = sorted(
        p.relative_to(ROOT / "demo").as_posix()
        for p in (ROOT / "demo").rglob("*")
        if p.is_file() and "results" not in p.parts and "history" not in p.parts
    )
    assert made == kept
    same, differing, unreadable = filecmp.cmpfiles(demo, ROOT / "demo", made, shallow=False)
    assert (differing, unreadable) == ([], [])
    assert len(same) == len(made)


def test_demo_has_the_bones_and_witnesses_it_promises(run: Run, truth: Truth) -> None:
    study = run.study
    assert study.settings.study.invented
    assert 135 <= len(study.specimens) <= 150
    assert truth["individuals"] >= 25
    assert len({bone.individual_id for bone in study.specimens if bone.individual_id}) >= 25
    assert len({bone.institution_code for bone in study.specimens}) == 6
    assert len(study.relatives) == 40
    own = [section for section in study.sections if section.specimen_id]
    # Four bones of each kind at mid-shaft, one femur at eight further places.
    assert len([section for section in own if section.position_fraction == 0.5]) == 12
    assert len(own) == 20
    assert len([s for s in own if s.outline_mm]) == 3 + 8
    assert len([picture for picture in study.pictures if not picture.shows_mount]) == 24
    assert len([picture for picture in study.pictures if picture.checksum]) == 19
    assert len(study.accounts) == 9
    assert study.tree_tips is not None
    assert set(study.tree_tips) == {relative.species for relative in study.relatives}


def test_demo_holds_every_kind_of_bone_a_collection_holds(run: Run) -> None:
    bones = run.study.specimens
    assert {"left", "right", "midline"} <= {bone.side for bone in bones}
    assert {"female", "male", "unknown"} <= {bone.sex for bone in bones}
    assert {"complete", "broken", "weathered"} <= {bone.preservation for bone in bones}
    assert any(bone.preparation == "cast" and bone.cast_of for bone in bones)
    assert any(bone.preparation == "cast" and not bone.cast_of for bone in bones)
    assert len({row.observer for row in run.study.measurements}) >= 4
    readings = Counter((row.specimen_id, row.code) for row in run.study.measurements)
    assert sum(count > 1 for count in readings.values()) >= 50


def test_hidden_truth_is_nowhere_in_the_demo_folder(demo_folder: Path, truth: Truth) -> None:
    words = "\n".join(
        path.read_text(encoding="utf-8")
        for path in demo_folder.rglob("*")
        if path.is_file()
        and "results" not in path.parts
        and path.suffix in {".csv", ".toml", ".md", ".nwk", ".json"}
    )
    assert f"{truth['animal']['mass_kg']} kg" not in words
    for bone in truth["mislabelled"]:
        assert all(
            "mislabel" not in line for line in words.splitlines() if line.startswith(f"{bone},")
        )


def test_every_step_of_the_demo_has_an_answer(run: Run) -> None:
    assert run.unanswered == {}
    assert {finding.step for finding in run.findings} == set(STEPS)


def test_pooled_interval_holds_the_true_mass(run: Run, truth: Truth) -> None:
    assert run.pooled is not None
    low, high = _interval95(run.pooled.mass_draws_kg)
    assert low <= truth["animal"]["mass_kg"] <= high
    assert high / low < 2.5  # an interval that holds everything would show nothing


def test_each_pooled_line_holds_the_true_mass(run: Run, truth: Truth) -> None:
    assert run.pooled is not None
    pooled = [line for line in run.pooled.lines if line.pooled]
    assert len(pooled) >= 3
    for line in pooled:
        assert _holds(line.mass_draws_kg, truth["animal"]["mass_kg"]), line.key


def test_average_lengths_lie_inside_their_intervals(run: Run, truth: Truth) -> None:
    assert run.skeleton is not None
    inside = {
        (element, code): _holds(run.skeleton.means[element, code].mean_draws_mm, value)
        for element, codes in truth["average_mm"].items()
        for code, value in codes.items()
    }
    assert len(inside) == 50
    assert sum(inside.values()) >= 0.9 * len(inside), [key for key, ok in inside.items() if not ok]


def test_mislabelled_bones_and_the_typing_error_are_the_only_rows_held_out(
    run: Run, truth: Truth
) -> None:
    held_out = {
        (doubt.ref.table, doubt.ref.row_id): doubt.kind
        for doubt in run.doubts
        if doubt.held_out and doubt.decided is None
    }
    expected = {("specimens", bone): "wrong element" for bone in truth["mislabelled"]}
    expected["measurements", truth["typing_error"]["row"]] = "factor of ten"
    assert held_out == expected


def test_doubt_on_a_mislabelled_bone_names_the_element_it_is(run: Run, truth: Truth) -> None:
    said = {doubt.ref.row_id: doubt.expected for doubt in run.doubts}
    for bone, element in truth["mislabelled"].items():
        assert element in said[bone]


def test_doubt_that_the_team_decided_is_shown_as_decided(run: Run, truth: Truth) -> None:
    decided = {doubt.ref.row_id: doubt.decided for doubt in run.doubts if doubt.decided}
    (kept,) = [row for row, decision in truth["decided"].items() if decision == "keep"]
    assert decided.get(kept) == "keep"


def test_blind_proof_holds_the_known_mass(run: Run, truth: Truth) -> None:
    assert run.relatives is not None
    proof = run.relatives.blind_proof
    assert proof is not None
    assert proof.species == truth["blind"]["species"]
    assert proof.known_mass_kg == pytest.approx(truth["blind"]["mass_kg"])
    low, _, high = proof.predicted[proof.chosen]
    assert low <= truth["blind"]["mass_kg"] <= high
    assert proof.held


def test_five_faults_of_the_old_mount_are_found_and_nothing_else(run: Run, truth: Truth) -> None:
    assert run.testimony is not None
    wrong = [check.measurement_id for check in run.testimony.mount if check.wrong]
    assert sorted(wrong) == truth["wrong_mount_rows"]
    assert len(run.testimony.mount) == 12


def _change(run: Run, *, with_copies: bool) -> ChangePoint:
    assert run.testimony is not None
    (change,) = [c for c in run.testimony.change_points if c.with_copies is with_copies]
    return change


def test_fatness_seems_to_change_when_copies_are_counted(run: Run, truth: Truth) -> None:
    change = _change(run, with_copies=True)
    assert change.n == 24
    assert (change.p_permutation < 0.05) is truth["change"]["with_copies"]
    assert change.last_before < truth["change"]["year"] < change.first_after
    assert change.mean_before < change.mean_after


def test_change_of_fatness_is_not_shown_by_independent_pictures(run: Run, truth: Truth) -> None:
    change = _change(run, with_copies=False)
    copied = [row for row in truth["copies"] if row.startswith("pic")]
    assert change.n == 24 - len(copied)
    assert (change.p_permutation < 0.05) is truth["change"]["without_copies"]


def test_copies_in_the_demo_are_those_of_the_truth_but_for_the_hidden_ones(
    run: Run, truth: Truth
) -> None:
    rows = (
        *((picture.picture_id, picture.copy_of) for picture in run.study.pictures),
        *((account.account_id, account.copy_of) for account in run.study.accounts),
    )
    entered = {row: original for row, original in rows if original}
    assert entered | truth["copies_no_row_tells_of"] == truth["copies"]
    assert truth["copies_no_row_tells_of"]
    assert not set(entered) & set(truth["copies_no_row_tells_of"])


def test_planted_copies_are_grouped_right_the_hidden_ones_by_shape(run: Run, truth: Truth) -> None:
    assert run.testimony is not None
    copying = run.testimony.copying
    assert copying is not None
    pictures = {copy: of for copy, of in truth["copies"].items() if copy.startswith("pic")}
    grouped = {
        name: group.original
        for group in copying.groups
        for name in group.members
        if name != group.original
    }
    assert grouped == pictures
    seen = {name for group in copying.groups for name in group.seen}
    assert seen == set(truth["copies_no_row_tells_of"])
    assert copying.effective_number == pytest.approx(24 - len(pictures), abs=0.5)
    assert copying.independent == {p.picture_id for p in run.testimony.pictures} - set(pictures)


def test_season_explains_fatness_better_than_century_as_planted(run: Run, truth: Truth) -> None:
    assert run.testimony is not None
    for season in run.testimony.seasons:
        better = season.by_season < min(season.by_century, season.by_mean)
        assert better is truth["season_explains_fatness"]
    assert len(run.testimony.seasons) == 2


def test_photograph_shows_the_faults_of_the_mount_that_it_can_and_no_other(
    run: Run, truth: Truth
) -> None:
    assert run.testimony is not None
    faults = {
        (row.element, row.code)
        for row in run.study.mount_measurements
        if row.ref.row_id in truth["wrong_mount_rows"]
    }
    checks = {(c.element, c.code): c.wrong for c in run.testimony.picture_checks["photo-1"]}
    # The head is measured with its bill on the photograph, without its sheath on the mount.
    assert checks.pop(("skull", "GL")) is (("skull", "CBL") in faults)
    assert len(checks) == 4
    assert {place for place, wrong in checks.items() if wrong} == faults & set(checks)


def test_heads_drawn_too_deep_are_found_and_no_other_drawing_is_called_wrong(
    run: Run, truth: Truth
) -> None:
    assert run.testimony is not None
    wrong = {
        name
        for name, checks in run.testimony.picture_checks.items()
        if name != "photo-1" and any(check.wrong for check in checks)
    }
    assert wrong == set(truth["heads_drawn_too_deep"])


def test_strength_indicator_holds_the_true_one(run: Run, truth: Truth) -> None:
    assert run.movement is not None
    for element, value in truth["strength_indicator_per_gpa"].items():
        assert _holds(run.movement.bones[element].indicator_draws_per_gpa, value), element


def test_lost_animal_could_run_at_its_true_mass(run: Run, truth: Truth) -> None:
    assert run.movement is not None
    low = float(np.median(run.movement.joint_low_draws_kg))
    high = float(np.median(run.movement.joint_high_draws_kg))
    inside = low <= truth["animal"]["mass_kg"] <= high
    assert inside is truth["animal"]["could_run"]
    assert run.movement.share_inside > 0.5


def test_animal_fattened_by_four_fifths_could_not_run(run: Run, truth: Truth) -> None:
    assert run.movement is not None
    high = float(np.median(run.movement.joint_high_draws_kg))
    assert 1.8 * truth["animal"]["mass_kg"] > high


def test_every_finding_is_a_finite_number_or_words(run: Run) -> None:
    for finding in run.findings:
        if isinstance(finding.value, Quantity):
            assert np.all(np.isfinite(finding.value.draws)), finding.key
        elif isinstance(finding.value, Exact):
            assert np.isfinite(finding.value.value), finding.key
        else:
            assert finding.value.text.strip(), finding.key
            assert "nan" not in finding.value.text.lower().split(), finding.key


def test_seed_gives_the_same_findings_again(run: Run, demo_folder: Path) -> None:
    from bonewright.pipeline import run_study
    from bonewright.study.load import load_study

    again = run_study(load_study(demo_folder))
    assert [finding.key for finding in again.findings] == [finding.key for finding in run.findings]
    assert run.pooled is not None
    assert again.pooled is not None
    assert np.array_equal(again.pooled.mass_draws_kg, run.pooled.mass_draws_kg)
