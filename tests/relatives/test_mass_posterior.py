"""Mass read back from bones, against algebra that does the same in another way."""

import numpy as np
import pytest
from scipy.stats import norm
from scipy.stats import t as student

from bonewright.relatives.kin_and_size import BonesAndMass, Recipe, fit_kin_and_size
from bonewright.relatives.mass_posterior import MassPosterior, read_back
from bonewright.relatives.places import Place, places_of_all, taken
from bonewright.relatives.two_covariances import fit_two_covariances


def straight(mass_ln):
    return mass_ln[..., None]


def test_one_bone_and_many_species_give_the_normal_answer(birds) -> None:
    """With the line known, ln mass is normal about (bone - place)/slope."""
    _, traversal, x, bones = birds(400, 21)
    seen = np.arange(400) != 3
    fit = fit_two_covariances(traversal, x, bones[:, [0]], observed=seen)
    place = taken(places_of_all(fit), np.array([3]))
    gap = bones[[3]][:, [0]] @ fit.rotation.T - place.measurements
    told = read_back(fit, place, gap, n_bones=1, terms=straight)
    slope = float(place.coefficients[0, 0, 0])
    middle = float(gap[0, 0] / slope + place.predictors[0, 0, 0])
    spread = float(np.sqrt(place.variance[0, 0] + 1) / abs(slope))
    shares = np.array([0.025, 0.25, 0.5, 0.75, 0.975])
    expected = middle + spread * norm.ppf(shares)
    assert told.quantiles_ln(shares)[0] == pytest.approx(expected, abs=0.05 * spread)


def test_heavy_tails_reach_as_far_as_the_t_they_stand_for(birds) -> None:
    """Own deviations only, one bone, a line known exactly: a t, drawn here by its mixture."""
    _, traversal, x, bones = birds(300, 22)
    fit = fit_two_covariances(traversal, x, bones[:, [0]], tail_freedom=5.0)
    exact = Place(
        predictors=np.zeros((1, 1, 1)),
        measurements=np.zeros((1, 1)),
        variance=np.zeros((1, 1)),
        coefficients=np.ones((1, 1, 1)),
        covariance=np.zeros((1, 1, 1, 1)),
    )
    told = read_back(fit, exact, np.zeros((1, 1)), n_bones=1, terms=straight)
    shares = np.array([0.005, 0.025, 0.16])
    assert told.quantiles_ln(shares)[0] == pytest.approx(student.ppf(shares, 5), rel=0.06)


def test_bones_that_disagree_have_a_misfit_and_bones_that_agree_have_none(birds) -> None:
    _, traversal, x, bones = birds(60, 23)
    table = BonesAndMass(
        traversal=traversal, mass_ln=x[:, 0], bones_ln=bones, groups=np.zeros((60, 0))
    )
    seen = np.arange(60) != 5
    odd = bones.copy()
    odd[5] += np.array([0.6, -0.6])
    sound = fit_kin_and_size(table, observed=seen).of_left_out(np.array([5]))
    strange = fit_kin_and_size(
        BonesAndMass(traversal=traversal, mass_ln=x[:, 0], bones_ln=odd, groups=np.zeros((60, 0))),
        observed=seen,
    ).of_left_out(np.array([5]))
    assert sound.misfit[0] < 8 < strange.misfit[0]


def test_an_animal_far_from_the_relatives_leans_on_the_lines_more(birds) -> None:
    _, traversal, x, bones = birds(30, 24)
    seen = np.arange(30) != np.argmax(x)
    table = BonesAndMass(
        traversal=traversal, mass_ln=x[:, 0], bones_ln=bones, groups=np.zeros((30, 0))
    )
    fit = fit_kin_and_size(table, observed=seen)
    row = int(np.argmax(x))
    near = fit.of_left_out(np.array([row]))
    table.bones_ln[row] += 0.4 * 3.0  # e^3 times heavier
    far = fit.of_left_out(np.array([row]))
    assert far.from_lines[0] > near.from_lines[0]
    widths = [np.diff(one.quantiles_ln(np.array([0.025, 0.975])))[0, 0] for one in (near, far)]
    assert widths[1] > widths[0]


def test_intervals_hold_ordinary_species_nineteen_times_in_twenty(birds) -> None:
    """Every tenth of 30 species left out of 12 simulated worlds, everything refitted."""
    held = []
    for seed in range(12):
        _, traversal, x, bones = birds(30, 60 + seed)
        table = BonesAndMass(
            traversal=traversal, mass_ln=x[:, 0], bones_ln=bones, groups=np.zeros((30, 0))
        )
        whole = fit_kin_and_size(table)
        for fold in range(10):
            out = np.arange(30) % 10 == fold
            told = fit_kin_and_size(table, observed=~out, start=whole).of_left_out(
                np.flatnonzero(out)
            )
            low, high = told.quantiles_ln(np.array([0.025, 0.975])).T
            held.extend((low <= x[out, 0]) & (x[out, 0] <= high))
    assert 0.92 <= np.mean(held) <= 0.99


def test_kin_draw_giants_down_and_the_size_model_does_not(birds) -> None:
    """Mass evolves too, and the heaviest are left out: the rule must not make them too light."""
    off = {"kin": [], "both": []}
    for seed in range(10):
        _, traversal, x, bones = birds(80, 300 + seed, evolving=True)
        table = BonesAndMass(
            traversal=traversal, mass_ln=x[:, 0], bones_ln=bones, groups=np.zeros((80, 0))
        )
        heavy = np.isin(np.arange(80), np.argsort(-x[:, 0])[:8])
        for name, recipe in (("kin", Recipe(heavy_share=1.0)), ("both", Recipe())):
            fit = fit_kin_and_size(table, observed=~heavy, recipe=recipe)
            told = fit.of_left_out(np.flatnonzero(heavy)).quantiles_ln(np.array([0.5]))[:, 0]
            off[name].extend(told - table.mass_ln[heavy])
    assert np.mean(off["kin"]) < -0.05
    assert abs(np.mean(off["both"])) < 0.5 * abs(np.mean(off["kin"]))


def test_groups_with_lines_of_their_own_are_told_apart(birds) -> None:
    _, traversal, x, bones = birds(80, 25)
    members = np.arange(80) % 2.0
    thicker = bones + 0.3 * members[:, None]
    plain, grouped = (
        fit_kin_and_size(
            BonesAndMass(traversal=traversal, mass_ln=x[:, 0], bones_ln=thicker, groups=groups)
        )
        .of_each_left_out()
        .log_score(x[:, 0])
        .mean()
        for groups in (np.zeros((80, 0)), members[:, None])
    )
    assert grouped > plain + 0.3


def test_quantiles_scores_and_shares_above_are_those_of_the_density() -> None:
    grid = np.linspace(-6, 6, 2001)[None]
    told = MassPosterior(
        grid_ln=grid, density=norm.pdf(grid), misfit=np.zeros(1), from_lines=np.zeros(1)
    )
    assert told.quantiles_ln(np.array([0.025, 0.5]))[0] == pytest.approx(
        norm.ppf([0.025, 0.5]), abs=1e-3
    )
    assert told.log_score(np.array([1.0])) == pytest.approx(norm.logpdf(1.0), abs=1e-3)
    assert told.above(np.array([1.0])) == pytest.approx(norm.sf(1.0), abs=1e-3)
