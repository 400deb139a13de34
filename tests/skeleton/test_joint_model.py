import numpy as np
import pytest
from scipy.special import stdtrit

from bonewright.errors import NotEnoughEvidence, OutsideRange
from bonewright.skeleton.factor_em import (
    fit_factors,
    fit_one_factor_without_pull,
    ln_likelihood,
)
from bonewright.skeleton.factor_kernels import information_of_means
from bonewright.skeleton.factor_scores import cells_of, chain_from, size_posterior
from bonewright.skeleton.foretelling import foretold_ln
from bonewright.skeleton.joint_model import (
    animals_worth,
    fit_joint_model,
    in_turn,
    target_from_relatives,
)
from bonewright.skeleton.ln_matrix import Entry, LnMatrix, ln_matrix

ELEMENTS = ("skull", "humerus", "femur", "tibiotarsus")
CODES = tuple((element, code) for element in ELEMENTS for code in ("GL", "SC", "Bd"))
MEAN_LN = np.log([148, 21, 52, 98, 7.4, 15.2, 172, 17.9, 40, 262, 15.4, 29.5])
SIZE_SD, BONE_SD, OWN_SD = 0.05, 0.01, 0.01


def birds_ln(rng, n, *, size=None):
    size = rng.normal(0, SIZE_SD, n) if size is None else size
    bones = np.repeat(rng.normal(0, BONE_SD, (n, 4)), 3, axis=1)
    return MEAN_LN + size[:, None] + bones + rng.normal(0, OWN_SD, (n, 12))


def table(values, bones_found, *, error=0.0):
    present = np.repeat(bones_found, 3, axis=1)
    return LnMatrix(
        rows=tuple(f"bird {number}" for number in range(len(values))),
        codes=CODES,
        values_ln=values,
        present=present,
        error_sd_ln=np.full(values.shape, error),
    )


def found_by_chance(rng, n, missing):
    found = rng.random((n, 4)) > missing
    found[:2] = True
    return found


def test_with_nothing_missing_the_interval_is_the_t_interval_of_the_mean() -> None:
    rng = np.random.default_rng(1)
    values = birds_ln(rng, 25)
    model = fit_joint_model(table(values, np.ones((25, 4), bool)), rng=rng)
    draws = model.mean_ln_draws(rng=rng, n_draws=20_000)
    half = stdtrit(24, 0.975) * values.std(axis=0, ddof=1) / 5
    low, high = np.quantile(draws, [0.025, 0.975], axis=0)
    assert (low + high) / 2 == pytest.approx(values.mean(axis=0), abs=0.1 * half.mean())
    assert (high - low) / 2 == pytest.approx(half, rel=0.15)


def test_95_percent_intervals_hold_the_truth_95_times_in_100() -> None:
    held = []
    for number in range(60):
        rng = np.random.default_rng([7, number])
        n = int(rng.integers(8, 25))
        matrix = table(birds_ln(rng, n), found_by_chance(rng, n, 0.6), error=0.003)
        model = fit_joint_model(matrix, rng=rng, n_states=80)
        draws = model.mean_ln_draws(rng=rng, n_draws=2_000)
        low, high = np.quantile(draws, [0.025, 0.975], axis=0)
        held.append(np.mean((low <= MEAN_LN) & (high >= MEAN_LN)))
    # Lengths of one study err together: two standard errors over studies are about 4 %.
    assert 0.91 <= np.mean(held) <= 0.985


def test_a_bone_known_once_is_placed_by_the_size_of_its_individual() -> None:
    rng = np.random.default_rng(3)
    n = 60
    size = rng.normal(0, SIZE_SD, n)
    size[0] = 0.12  # the only skull belongs to a very large bird
    found = np.ones((n, 4), bool)
    found[1:, 0] = False
    values = birds_ln(rng, n, size=size)
    model = fit_joint_model(table(values, found), rng=rng)
    low, high = np.quantile(model.mean_ln_draws(rng=rng, n_draws=8_000)[:, 0], [0.025, 0.975])
    assert low < MEAN_LN[0] < high
    assert high < values[0, 0]  # the plain mean would have been that one bird's
    assert 0.03 < high - low < 0.15  # as wide as shapes vary, not as sizes do


def test_draws_of_bones_of_the_same_individuals_move_together() -> None:
    rng = np.random.default_rng(4)
    model = fit_joint_model(table(birds_ln(rng, 20), found_by_chance(rng, 20, 0.3)), rng=rng)
    draws = model.mean_ln_draws(rng=rng, n_draws=8_000)
    assert np.corrcoef(draws[:, 0], draws[:, 9])[0, 1] > 0.6


def test_bones_of_different_individuals_do_not_speak_for_each_other() -> None:
    rng = np.random.default_rng(5)
    n = 80
    found = np.eye(4, dtype=bool)[rng.integers(4, size=n)]
    values = birds_ln(rng, n)
    model = fit_joint_model(table(values, found), rng=rng)
    plain = [values[found[:, bone], 3 * bone].mean() for bone in range(4)]
    assert model.mean_ln[::3] == pytest.approx(plain, abs=0.004)
    correlation = np.corrcoef(model.mean_ln_draws(rng=rng, n_draws=8_000)[:, ::3].T)
    assert np.max(np.abs(correlation - np.eye(4))) < 0.1


def test_loose_bones_of_few_animals_do_not_feign_many() -> None:
    held, feigned = [], []
    for number in range(30):
        rng = np.random.default_rng([22, number])
        n = 16
        values, found = birds_ln(rng, n), found_by_chance(rng, n, 0.4)
        # Every second bird keeps its bones together, the others' lie loose.
        apart = [(bird, bone) for bird in range(1, n, 2) for bone in np.flatnonzero(found[bird])]
        rows = np.concatenate([np.arange(0, n, 2), [bird for bird, _ in apart]]).astype(int)
        present = np.vstack([found[::2], np.eye(4, dtype=bool)[[bone for _, bone in apart]]])
        matrix = table(values[rows], present)
        for animals, into in ((10, held), (None, feigned)):
            model = fit_joint_model(matrix, animals=animals, rng=rng, n_states=80)
            draws = model.mean_ln_draws(rng=rng, n_draws=2_000)
            low, high = np.quantile(draws, [0.025, 0.975], axis=0)
            into.append(np.mean((low <= MEAN_LN) & (high >= MEAN_LN)))
    assert np.mean(held) >= 0.9
    assert np.mean(held) > np.mean(feigned)


def test_a_unit_changes_every_length_by_the_same_factor() -> None:
    rng = np.random.default_rng(6)
    values, found = birds_ln(rng, 15), found_by_chance(rng, 15, 0.5)
    in_mm = fit_joint_model(table(values, found), rng=np.random.default_rng(1))
    in_cm = fit_joint_model(table(values - np.log(10), found), rng=np.random.default_rng(1))
    assert in_cm.mean_ln + np.log(10) == pytest.approx(in_mm.mean_ln, abs=1e-6)
    assert in_cm.covariance_ln == pytest.approx(in_mm.covariance_ln, rel=1e-4)


def test_the_order_of_individuals_does_not_matter_to_the_fit() -> None:
    rng = np.random.default_rng(8)
    values, found = birds_ln(rng, 15), found_by_chance(rng, 15, 0.5)
    order = rng.permutation(15)
    one = fit_factors(table(values, found))
    other = fit_factors(table(values[order], found[order]))
    assert other.mean_ln == pytest.approx(one.mean_ln, abs=1e-9)


def test_known_measuring_error_is_not_taken_for_variation_of_the_animal() -> None:
    rng = np.random.default_rng(9)
    n = 200
    values = birds_ln(rng, n) + rng.normal(0, 0.03, (n, 12))
    found = np.ones((n, 4), bool)
    told = fit_joint_model(table(values, found, error=0.03), rng=rng)
    untold = fit_joint_model(table(values, found), rng=rng)
    true_variance = SIZE_SD**2 + BONE_SD**2 + OWN_SD**2
    assert np.mean(np.diag(told.covariance_ln)) == pytest.approx(true_variance, rel=0.2)
    excess = np.mean(np.diag(untold.covariance_ln - told.covariance_ln))
    assert excess == pytest.approx(0.03**2, rel=0.3)


def test_structured_sums_agree_with_plain_matrix_algebra() -> None:
    rng = np.random.default_rng(10)
    matrix = table(birds_ln(rng, 12), found_by_chance(rng, 12, 0.5), error=0.005)
    fitted = fit_factors(matrix)
    sizes, _ = size_posterior(fitted, matrix)
    covariance = fitted.covariance_ln()
    information, pulled = np.zeros((12, 12)), np.zeros(12)
    for number, kept in enumerate(matrix.present):
        inverse = np.linalg.inv(covariance[np.ix_(kept, kept)] + 0.005**2 * np.eye(kept.sum()))
        information[np.ix_(kept, kept)] += inverse
        off = (matrix.values_ln[number] - fitted.mean_ln)[kept]
        size = fitted.size_variance * fitted.loading[kept] @ inverse @ off
        assert sizes[number] == pytest.approx(size, rel=1e-8)
        pulled[kept] += inverse @ matrix.values_ln[number, kept]
    found, right = np.empty((12, 12)), np.empty(12)
    information_of_means(cells_of(matrix), chain_from(fitted, 12), found, right)
    upper = np.triu_indices(12)
    assert found[upper] == pytest.approx(information[upper], rel=1e-7, abs=1e-6)
    assert right == pytest.approx(pulled, rel=1e-7)


def test_with_one_sex_collected_more_the_mean_of_both_is_found_by_the_known_ones() -> None:
    held, missed = 0, 0
    for number in range(12):
        rng = np.random.default_rng([11, number])
        n = 30
        larger = np.arange(n) < 24
        size = rng.normal(0, 0.03, n) + 0.12 * (larger - 0.5)
        matrix = table(birds_ln(rng, n, size=size), found_by_chance(rng, n, 0.4))
        known = {row: bool(larger[place]) for place, row in enumerate(matrix.rows) if place % 2}
        both = fit_joint_model(matrix, two_sizes=True, larger_sex=known, rng=rng, n_states=80)
        as_found = fit_joint_model(matrix, rng=rng, n_states=80)
        low, high = np.quantile(both.mean_ln_draws(rng=rng, n_draws=2_000)[:, 6], [0.025, 0.975])
        held += low <= MEAN_LN[6] <= high
        low = np.quantile(as_found.mean_ln_draws(rng=rng, n_draws=2_000)[:, 6], 0.025)
        missed += low > MEAN_LN[6]
        worlds = both.mean_ln_worlds(rng=rng, n_draws=2_000)
        larger_mm, smaller_mm = (
            np.median(both.length_draws(worlds, average=f"{sex} sex", n_draws=2_000)[:, 6])
            for sex in ("larger", "smaller")
        )
        gap = np.log(larger_mm / smaller_mm)
        assert gap == pytest.approx(0.12, abs=0.06)
    assert held >= 10
    assert missed >= 6


def test_the_kinds_of_average_stand_in_their_order() -> None:
    rng = np.random.default_rng(12)
    model = fit_joint_model(table(birds_ln(rng, 30), found_by_chance(rng, 30, 0.3)), rng=rng)

    worlds = model.mean_ln_worlds(rng=rng, n_draws=4_000)

    def middle(average, percentile=50.0):
        draws = model.length_draws(worlds, average=average, percentile=percentile, n_draws=4_000)
        return np.median(draws[:, 6])

    assert middle("arithmetic") > middle("geometric")
    assert middle("percentile") == pytest.approx(middle("median"), rel=1e-9)
    largest = np.log(middle("percentile", 97.5) / middle("median"))
    assert largest == pytest.approx(1.96 * SIZE_SD, rel=0.35)


@pytest.mark.parametrize(
    ("average", "percentile"),
    [("mode", 50.0), ("percentile", 0.0), ("percentile", 100.0), ("larger sex", 50.0)],
)
def test_an_average_that_does_not_exist_is_refused(average, percentile) -> None:
    rng = np.random.default_rng(13)
    model = fit_joint_model(table(birds_ln(rng, 8), np.ones((8, 4), bool)), rng=rng, n_states=5)
    worlds = model.mean_ln_worlds(rng=rng, n_draws=10)
    with pytest.raises(OutsideRange):
        model.length_draws(worlds, average=average, percentile=percentile, n_draws=10)


def test_a_code_nobody_has_is_named() -> None:
    rng = np.random.default_rng(14)
    found = np.ones((8, 4), bool)
    found[:, 2] = False
    with pytest.raises(NotEnoughEvidence, match="femur GL"):
        fit_joint_model(table(birds_ln(rng, 8), found), rng=rng)


def test_the_same_seed_gives_the_same_skeleton() -> None:
    values, found = birds_ln(np.random.default_rng(15), 8), np.ones((8, 4), bool)
    first, second = (
        fit_joint_model(table(values, found), rng=np.random.default_rng(2), n_states=10)
        for _ in range(2)
    )
    assert np.array_equal(first.mean_ln, second.mean_ln)


def test_one_individual_alone_still_gives_finite_and_wide_intervals() -> None:
    values = birds_ln(np.random.default_rng(16), 1)
    model = fit_joint_model(table(values, np.ones((1, 4), bool)), rng=np.random.default_rng(1))
    draws = model.mean_ln_draws(rng=np.random.default_rng(1), n_draws=8_000)
    low, high = np.quantile(draws, [0.025, 0.975], axis=0)
    assert np.all(np.isfinite(draws))
    assert np.all(high - low > 3 * SIZE_SD)
    assert np.all(high - low < 12 * SIZE_SD)  # but no size that no animal has


def test_the_length_of_a_broken_bone_follows_from_its_breadth() -> None:
    held = []
    for number in range(40):
        rng = np.random.default_rng([17, number])
        values = birds_ln(rng, 25)
        model = fit_joint_model(
            table(values[1:], found_by_chance(rng, 24, 0.3)), rng=rng, n_states=80
        )
        drawn = foretold_ln(
            model.mean_ln_draws(rng=rng, n_draws=2_000),
            model.states.spreads_ln(),
            values[0, [8, 7]],  # breadth and shaft of the femur
            known=np.array([8, 7]),
            wanted=np.array([6]),
            rng=rng,
        )
        low, high = np.quantile(drawn[:, 0], [0.025, 0.975])
        held.append(low <= values[0, 6] <= high)
        assert high - low < 3 * SIZE_SD  # far narrower than lengths vary
    assert 34 <= sum(held) <= 40


def test_what_a_bone_follows_from_is_the_regression_that_the_covariance_implies() -> None:
    rng = np.random.default_rng(24)
    n = 30
    matrix = table(birds_ln(rng, n), found_by_chance(rng, n, 0.3), error=0.004)
    states = fit_joint_model(matrix, two_sizes=True, rng=rng, n_states=6).states
    known, error = np.array([1, 7, 8, 11]), np.array([0.001, 0.01, 0.004, 0.02])
    slopes, left = states.slopes_of(6, known, error_sd_ln=error)
    for number, spread in enumerate(states.spreads_ln()):
        inner = spread[np.ix_(known, known)] + np.diag(error**2)
        expected = np.linalg.solve(inner, spread[known, 6])
        assert slopes[number] == pytest.approx(expected, rel=1e-8)
        assert left[number] ** 2 == pytest.approx(spread[6, 6] - expected @ spread[known, 6])
    assert states.mean_spread_ln() == pytest.approx(states.spreads_ln().mean(axis=0))


def test_states_take_turns_and_a_code_lies_in_one_piece() -> None:
    worlds = np.arange(2 * 3 * 4.0).reshape(2, 3, 4)
    draws = in_turn(worlds, 7)
    assert draws.shape == (7, 3)
    assert np.array_equal(draws[5], worlds[1, :, 2])
    assert draws[:, 1].flags.c_contiguous


def relatives_ln(rng, n):
    size = rng.normal(-0.5, 0.4, n)
    slope = np.linspace(0.9, 1.1, 12)
    return MEAN_LN + size[:, None] * slope + rng.normal(0, 0.06, (n, 12))


def test_a_pulled_covariance_foretells_new_birds_better_than_one_fitted_freely() -> None:
    gains = []
    for number in range(10):
        rng = np.random.default_rng([21, number])
        few = table(birds_ln(rng, 8), np.ones((8, 4), bool))
        new = table(birds_ln(rng, 50), np.ones((50, 4), bool))
        pulled = ln_likelihood(fit_factors(few), new)
        free = ln_likelihood(fit_one_factor_without_pull(few, max_rounds=300), new)
        gains.append((pulled - free) / 50)
    assert np.mean(gains) > 0.5
    assert min(gains) > 0


def test_relatives_teach_which_parts_grow_faster() -> None:
    rng = np.random.default_rng(20)
    target = target_from_relatives(
        table(relatives_ln(rng, 40), np.ones((40, 4), bool)), codes=(*CODES, ("femur", "Dd"))
    )
    assert np.corrcoef(target.size_loading[:12], np.linspace(0.9, 1.1, 12))[0, 1] > 0.8
    assert target.size_loading[12] == 1.0


def test_a_table_is_laid_out_from_readings_with_repeats_averaged() -> None:
    matrix = ln_matrix(
        [
            Entry(row="a", code=("femur", "GL"), value_mm=100.0, relative_error=0.02),
            Entry(row="a", code=("ulna", "GL"), value_mm=50.0),
            Entry(row="a", code=("femur", "GL"), value_mm=121.0, relative_error=0.02),
            Entry(row="b", code=("femur", "Bd"), value_mm=30.0),
        ]
    )
    assert matrix.codes == (("femur", "GL"), ("femur", "Bd"), ("ulna", "GL"))
    assert np.exp(matrix.values_ln[0, 0]) == pytest.approx(110.0)
    assert matrix.error_sd_ln[0, 0] == pytest.approx(0.02 / np.sqrt(2))
    assert matrix.present.tolist() == [[True, False, True], [False, True, False]]


@pytest.mark.parametrize("length", [0.0, -3.0, float("nan")])
def test_a_length_that_is_none_is_refused(length) -> None:
    with pytest.raises(OutsideRange):
        ln_matrix([Entry(row="a", code=("femur", "GL"), value_mm=length)])


def test_loose_bones_make_animals_weigh_unevenly() -> None:
    assert animals_worth(fewest=12, n_named=12, n_loose=0) == 12
    rng = np.random.default_rng(23)
    named, loose = 20, 30
    means = [
        rng.standard_normal(named) @ (1 + rng.multinomial(loose, np.full(named, 1 / named)))
        for _ in range(20_000)
    ]
    worth = 1 / np.var(np.array(means) / (named + loose))
    assert animals_worth(fewest=named, n_named=named, n_loose=loose) == pytest.approx(
        worth, rel=0.04
    )


@pytest.mark.parametrize("noise", [1e-3, 1e-6, 1e-9, 0.0])
def test_a_measurement_taken_twice_over_leaves_the_mean_and_its_doubt_as_they_were(
    noise: float,
) -> None:
    rng = np.random.default_rng(3)
    size = np.log(60) + 0.1 * rng.standard_normal(9)
    other = size + 0.05 * rng.standard_normal(9)

    def fit(*columns: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        values = np.column_stack(columns)
        model = fit_joint_model(
            LnMatrix(
                rows=tuple(f"bird {number}" for number in range(9)),
                codes=tuple(("femur", code) for code in "abc"[: len(columns)]),
                values_ln=values,
                present=np.ones(values.shape, bool),
                error_sd_ln=np.full(values.shape, 1e-3),
            ),
            rng=np.random.default_rng(1),
            n_states=60,
        )
        return model.mean_ln, np.sqrt(np.diag(model.mean_covariance_ln))

    once, doubt_once = fit(size, other)
    twice, doubt_twice = fit(size, size + noise * rng.standard_normal(9), other)
    assert twice[[0, 2]] == pytest.approx(once, abs=0.2 * doubt_once.min())
    # Sixty states know a standard deviation within about a tenth.
    assert doubt_twice[0] == pytest.approx(doubt_once[0], rel=0.3)
    assert doubt_twice[1] == pytest.approx(doubt_twice[0], rel=0.05)
