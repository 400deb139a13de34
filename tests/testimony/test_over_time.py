import numpy as np
import pytest
from scipy.special import gammaln
from scipy.stats import t as student

from bonewright.errors import NotEnoughEvidence
from bonewright.findings import RowRef
from bonewright.study.model import DateSpan, PictureMark
from bonewright.testimony.agreement import scorer_agreement, weighted_kappa
from bonewright.testimony.change_point import find_change, share_found
from bonewright.testimony.change_probability import change_probability, ln_bayes_factors
from bonewright.testimony.season import compare_season, left_out_error
from bonewright.testimony.trend import find_trend, kendall_statistic, slope_interval


def years(values: list[float], width: float = 0.01) -> tuple[DateSpan, ...]:
    return tuple(DateSpan(earliest=v, latest=v + width, text=f"{v:.2f}") for v in values)


def ln_marginal(y: np.ndarray) -> float:
    """Multiply one-step predictions of the conjugate model: another way to the same number."""
    k, m, a, b, total = 0.5, 3.0, 2.0, 0.5, 0.0
    for value in y:
        scale = np.sqrt(b * (k + 1) / (a * k))
        total += float(student.logpdf(value, 2 * a, loc=m, scale=scale))
        b += 0.5 * k * (value - m) ** 2 / (k + 1)
        m, k, a = (k * m + value) / (k + 1), k + 1, a + 0.5
    return total


def ln_marginal_of_two(y: np.ndarray, before: int) -> float:
    """Integrate two levels and one scatter over a grid of scatters."""
    variances = np.exp(np.linspace(-6, 6, 4001))
    ln_density = 2 * np.log(0.5) - gammaln(2.0) - 3 * np.log(variances) - 0.5 / variances
    for part in (y[:before], y[before:]):
        n = len(part)
        cover = np.eye(n) + np.ones((n, n)) / 0.5
        gap = part - 3.0
        ln_density = ln_density - 0.5 * (
            n * np.log(2 * np.pi * variances)
            + np.linalg.slogdet(cover)[1]
            + gap @ np.linalg.solve(cover, gap) / variances
        )
    most = ln_density.max()
    return float(
        most + np.log(np.trapezoid(np.exp(ln_density - most) * variances, np.log(variances)))
    )


def test_bayes_factors_are_those_of_marginal_likelihoods_got_another_way() -> None:
    y = np.array([2.0, 2.5, 1.5, 2.0, 4.0, 3.5, 4.5, 4.0])
    factors = ln_bayes_factors(y)
    for before in (1, 3, 4, 7):
        expected = ln_marginal_of_two(y, before) - ln_marginal(y)
        assert factors[before - 1] == pytest.approx(expected, abs=1e-4)
    assert np.argmax(factors) == 3


def test_a_clear_step_is_found_and_its_year_and_size_are_held() -> None:
    rng = np.random.default_rng(4)
    when = np.sort(rng.uniform(1640, 1760, 30))
    scores = np.where(when < 1700, 2.0, 3.8) + 0.4 * rng.standard_normal(30)
    change = change_probability(scores, years(list(when - 1.5), 3.0), with_copies=False, rng=rng)
    low, high = np.quantile(change.year_draws, [0.025, 0.975])
    assert change.probability > 0.99
    assert low < 1700 < high
    assert high - low < 40
    low, high = np.quantile(change.step_draws, [0.025, 0.975])
    assert low < 1.8 < high


def test_scores_without_a_change_speak_against_one() -> None:
    rng = np.random.default_rng(5)
    when = np.linspace(1640, 1760, 30)
    factors = [
        change_probability(
            3 + 0.7 * rng.standard_normal(30), years(list(when)), with_copies=False, rng=rng
        ).bayes_factor
        for _ in range(40)
    ]
    assert np.median(factors) < 0.8


def test_wide_dates_make_the_year_of_change_wide() -> None:
    when = list(np.linspace(1640, 1760, 24))
    scores = np.array([2.0, 2.5] * 6 + [4.0, 3.5] * 6)
    spread = [
        float(np.ptp(np.quantile(change.year_draws, [0.025, 0.975])))
        for width in (0.1, 60.0)
        for change in (
            change_probability(
                scores, years(when, width), with_copies=False, rng=np.random.default_rng(1)
            ),
        )
    ]
    assert spread[1] > 3 * spread[0]


def test_slope_draws_hold_a_planted_slope_and_name_its_direction() -> None:
    rng = np.random.default_rng(6)
    when = np.linspace(1640, 1760, 36)
    scores = 2 + 0.15 * (when - 1640) / 10 + 0.4 * rng.standard_normal(36)
    trend = find_trend(scores, years(list(when), 2.0), with_copies=False, rng=rng)
    low, high = np.quantile(trend.slope_draws, [0.025, 0.975])
    assert low < 0.15 < high
    assert low > 0
    assert trend.p_permutation < 0.01
    assert trend.kendall.s > 0


def test_a_season_is_told_from_a_century_and_the_other_way_round() -> None:
    rng = np.random.default_rng(7)
    when = np.sort(rng.uniform(1640, 1760, 24))
    wave = 3 + np.cos(2 * np.pi * (when % 1 - 0.2)) + 0.3 * rng.standard_normal(24)
    season = compare_season(wave, years(list(when), 0.08), with_copies=False, rng=rng)
    assert season.by_season < 0.6 * min(season.by_mean, season.by_century)
    assert season.p_season < 0.01
    assert season.fattest_month in {2, 3, 4}
    line = 2 + 2 * (when - 1640) / 120 + 0.3 * rng.standard_normal(24)
    century = compare_season(line, years(list(when), 0.08), with_copies=False, rng=rng)
    assert century.by_century < 0.6 * min(century.by_mean, century.by_season)


def test_pictures_dated_to_the_year_say_nothing_of_season() -> None:
    with pytest.raises(NotEnoughEvidence) as caught:
        compare_season(
            np.ones(20),
            years(list(range(1640, 1660)), 1.0),
            with_copies=False,
            rng=np.random.default_rng(1),
        )
    assert caught.value.found == "0"


def test_left_out_error_is_that_of_leaving_each_out() -> None:
    rng = np.random.default_rng(8)
    design = np.column_stack([np.ones(12), rng.standard_normal((12, 2))])
    values = rng.standard_normal(12)
    errors = []
    for i in range(12):
        rest = np.arange(12) != i
        fit = np.linalg.lstsq(design[rest], values[rest], rcond=None)[0]
        errors.append(values[i] - design[i] @ fit)
    assert left_out_error(design, values) == pytest.approx(np.sqrt(np.mean(np.square(errors))))


def test_power_grows_with_pictures_and_with_the_step() -> None:
    def found(n: int, step: float) -> float:
        scores = 3 + 0.7 * np.random.default_rng(9).standard_normal(n)
        rng = np.random.default_rng(1)
        change = find_change(
            scores, years(list(np.linspace(1640, 1760, n))), with_copies=False, rng=rng
        )
        return share_found(change, step=step, rng=np.random.default_rng(2))

    assert found(12, 0.0) == pytest.approx(0.05, abs=0.02)
    assert found(12, 1.0) < found(40, 1.0)
    assert found(40, 0.3) < found(40, 1.0)
    assert found(40, 1.5) > 0.95


def scores(table: list[list[float | None]], kind: str = "fatness") -> list[PictureMark]:
    return [
        PictureMark(
            ref=RowRef(table="picture_marks", row=2, row_id="k"),
            picture_id=f"p{i}",
            kind=kind,
            score=score,
            scorer=f"scorer {j}",
        )
        for j, row in enumerate(table)
        for i, score in enumerate(row)
        if score is not None
    ]


def test_scorers_who_agree_wholly_reach_one_and_gaps_do_no_harm() -> None:
    agreement = scorer_agreement(scores([[1, 2.5, 4, None], [1, 2.5, 4, 5]]), "fatness")
    assert agreement is not None
    assert (agreement.kappa, agreement.alpha) == (pytest.approx(1), pytest.approx(1))
    assert (agreement.n_pictures, agreement.n_pairs) == (3, 3)


def test_kinds_of_scores_are_kept_apart() -> None:
    marks = scores([[1, 2], [1, 2]]) + scores([[5, 1], [1, 5]], "posture")
    fatness, posture = (scorer_agreement(marks, kind) for kind in ("fatness", "posture"))
    assert fatness is not None
    assert posture is not None
    assert (fatness.mean_difference, posture.mean_difference) == (0, 4)
    assert posture.kappa is not None
    assert posture.kappa < 0
    assert scorer_agreement(marks, "plumage") is None


def test_agreement_beyond_chance_has_no_number_where_nothing_varies() -> None:
    agreement = scorer_agreement(scores([[3, 3], [3, 3]]), "fatness")
    assert agreement is not None
    assert (agreement.kappa, agreement.alpha) == (None, None)
    assert weighted_kappa(np.full(4, 2.0), np.full(4, 2.0)) is None


def _spans(*earliest: float) -> tuple[DateSpan, ...]:
    return tuple(DateSpan(text=str(year), earliest=year, latest=year + 1) for year in earliest)


@pytest.mark.parametrize(
    "dates",
    [_spans(*range(1600, 1608)), _spans(*[1600] * 7, 1601), _spans(*[1600] * 4, *[1700] * 4)],
)
@pytest.mark.parametrize(
    "scores", [[3.0] * 8, [3.0] * 7 + [4.0], [1.0, 5.0] * 4, [3 + 1e-12 * n for n in range(8)]]
)
def test_tied_scores_and_tied_dates_give_chances_and_slopes_that_are_numbers(
    dates: tuple[DateSpan, ...], scores: list[float]
) -> None:
    values = np.array(scores)
    trend = find_trend(values, dates, with_copies=True, rng=np.random.default_rng(1))
    change = find_change(values, dates, with_copies=True, rng=np.random.default_rng(1))
    chance = change_probability(values, dates, with_copies=True, rng=np.random.default_rng(1))
    for p in (trend.kendall.p, trend.p_permutation, change.p_permutation, chance.probability):
        assert 0 < p <= 1
    assert np.isfinite(trend.slope_draws).all()
    assert np.isfinite(chance.year_draws).all()
    if len(set(scores)) == 1:
        assert trend.kendall.p == 1
        assert not trend.slope_draws.any()


def test_two_values_or_one_time_have_no_trend() -> None:
    with pytest.raises(NotEnoughEvidence):
        kendall_statistic(np.arange(2.0), np.arange(2.0))
    with pytest.raises(NotEnoughEvidence):
        slope_interval(np.zeros(6), np.arange(6.0))
