import numpy as np
import pytest

from bonewright.errors import NotEnoughEvidence
from bonewright.findings import RowRef, Statement
from bonewright.judgement.ground import EvidenceNode, gathered_nodes, shared_ground
from bonewright.judgement.hypotheses import FatnessWitness, WeightClaim, judge_hypotheses
from bonewright.judgement.lines import Line, decided_lines
from bonewright.judgement.mixture import Beliefs
from bonewright.judgement.next_evidence import Measurable, worth_of_new_evidence
from bonewright.judgement.options import within_bound
from bonewright.judgement.overturn import StrengthBound, mass_that_flips, what_would_overturn
from bonewright.judgement.pooling import pool_masses
from bonewright.quantity import Draws
from bonewright.study.model import Hypothesis, LineDecision

N_DRAWS = 4000
BELIEFS = Beliefs(heterogeneity_scale=0.2)


def draws(middle_kg: float, sd_ln: float = 0.1, seed: int = 1) -> Draws:
    noise = np.random.default_rng(seed).normal(0, sd_ln, N_DRAWS)
    return np.asarray(middle_kg * np.exp(noise - noise.mean()))


def line(key: str, mass_kg: Draws, *, pooled: bool = True) -> Line:
    return Line(
        key=key,
        title=key,
        mass_draws_kg=mass_kg,
        pooled=pooled,
        reason="a test",
        rests_on=("bones",),
    )


LINES = tuple(line(f"line {place}", draws(kg, seed=place)) for place, kg in enumerate((14, 15, 16)))


def test_a_line_told_what_would_overturn_the_verdict_overturns_it() -> None:
    verdict = pool_masses(LINES, heterogeneity_scale=0.2, rng=np.random.default_rng(3))
    low, high = np.quantile(verdict.mass_draws_kg, [0.025, 0.975])
    (first, *_) = what_would_overturn(
        LINES, mass_kg=verdict.mass_draws_kg, beliefs=BELIEFS, flips_at_kg=None
    )
    assert first.above_kg is not None
    assert first.below_kg is not None
    for said, end in ((first.above_kg, high), (first.below_kg, low)):
        other = line("other", LINES[0].mass_draws_kg * said / first.says_kg)
        again = pool_masses(
            (other, *LINES[1:]), heterogeneity_scale=0.2, rng=np.random.default_rng(3)
        )
        assert np.median(again.mass_draws_kg) == pytest.approx(end, rel=0.02)
    assert first.flips_kg is None


def test_a_single_line_overturns_by_its_own_interval() -> None:
    only = LINES[:1]
    mass = only[0].mass_draws_kg
    (told,) = what_would_overturn(only, mass_kg=mass, beliefs=BELIEFS, flips_at_kg=None)
    assert told.above_kg == pytest.approx(np.quantile(mass, 0.975), rel=0.01)


def test_where_a_line_with_heavy_tails_has_lost_its_pull_no_result_overturns() -> None:
    many = tuple(line(f"line {seed}", draws(15, 0.05, seed=seed)) for seed in range(6))
    verdict = pool_masses(many, heterogeneity_scale=0.05, rng=np.random.default_rng(3))
    heavy = Beliefs(heterogeneity_scale=0.05, wrong_share=0.1)
    told = what_would_overturn(many, mass_kg=verdict.mass_draws_kg, beliefs=heavy, flips_at_kg=60.0)
    assert {item.flips_kg for item in told} == {None}


def test_the_legs_answer_turns_at_the_end_of_their_window() -> None:
    bound = StrengthBound(low_kg=np.full(N_DRAWS, 5.0), high_kg=np.full(N_DRAWS, 22.0))
    assert mass_that_flips(draws(15), bound) == pytest.approx(22.0, rel=0.01)
    wide = StrengthBound(low_kg=np.full(N_DRAWS, 0.001), high_kg=np.full(N_DRAWS, 1e6))
    assert mass_that_flips(draws(15), wide) is None


def test_a_soft_bound_thins_what_lies_outside_by_its_weight() -> None:
    mass = draws(15, 0.3)
    low, high = np.full(N_DRAWS, 0.0), np.full(N_DRAWS, 15.0)
    share = np.mean(mass <= 15)

    def inside(weight: float) -> float:
        kept = within_bound(
            mass, low_kg=low, high_kg=high, outside_weight=weight, rng=np.random.default_rng(1)
        )
        return float(np.mean(kept <= 15))

    assert inside(0.0) == 1.0
    assert inside(1.0) == pytest.approx(share, abs=0.001)
    assert inside(0.25) == pytest.approx(share / (share + 0.25 * (1 - share)), abs=0.01)


def test_the_measurement_that_the_mass_hangs_on_is_worth_most() -> None:
    bone = np.random.default_rng(7).normal(100, 3, N_DRAWS)
    mass = 15 * (bone / 100) ** 2.7 * np.exp(np.random.default_rng(8).normal(0, 0.02, N_DRAWS))
    told = worth_of_new_evidence(
        [line("bones", mass)],
        mass_kg=mass,
        beliefs=BELIEFS,
        measurable={
            "femur": Measurable(action="measure femora", draws=bone, left=0.5),
            "skull": Measurable(
                action="measure skulls",
                draws=np.random.default_rng(9).normal(0, 1, N_DRAWS),
                left=0.5,
            ),
        },
    )
    worth = {item.action: item.narrower_percent for item in told}
    assert worth["measure femora"] == pytest.approx(100 * (1 - 0.5**0.5), abs=3)
    assert worth["measure skulls"] < 0.5
    assert [item.narrower_percent for item in told] == sorted(worth.values(), reverse=True)


def test_lines_on_the_same_bones_are_told_with_their_correlation() -> None:
    common = draws(1, 0.2, seed=5)
    first, second = (
        EvidenceNode(
            key=key,
            title=key,
            about="mass",
            bearing="pooled",
            rests_on=("bones", key),
            draws=common * draws(15, 0.001, seed=seed),
        )
        for key, seed in (("a", 1), ("b", 2))
    )
    (pair,) = shared_ground([first, second])
    assert pair.shares == ("bones",)
    assert pair.correlation == pytest.approx(1, abs=0.01)


def test_alike_estimates_beside_the_verdict_are_gathered_and_counted() -> None:
    nodes = [
        EvidenceNode(
            key=str(place),
            title=f"Leg bones: bone {place}",
            about="mass",
            bearing="pooled" if place == 0 else "beside",
            rests_on=("bones",),
        )
        for place in range(5)
    ]
    pooled, beside = gathered_nodes(nodes)
    assert (pooled.count, beside.count) == (1, 4)


def decision(key: str, what: str) -> LineDecision:
    return LineDecision(
        ref=RowRef(table="line_decisions", row=2, row_id=key),
        line_key=key,
        decision="pool" if what == "pool" else "set aside",
        reason="it was measured on a cast",
    )


def test_a_line_set_aside_leaves_the_verdict_and_its_reason_is_printed() -> None:
    decided, caveats = decided_lines(LINES, [decision("line 1", "set aside")])
    assert [item.pooled for item in decided] == [True, False, True]
    assert "it was measured on a cast" in decided[1].reason
    assert [caveat.code for caveat in caveats] == ["line set aside"]
    pooled = pool_masses(
        LINES,
        heterogeneity_scale=0.2,
        decisions=(decision("line 1", "set aside"),),
        rng=np.random.default_rng(3),
    )
    assert "line 1" not in pooled.weights_percent
    (mass,) = [finding for finding in pooled.findings if finding.key == "judgement.mass"]
    assert "it was measured on a cast" in " ".join(caveat.text for caveat in mass.caveats)


def test_with_every_line_set_aside_it_is_said_why_there_is_no_mass() -> None:
    decisions = tuple(decision(item.key, "set aside") for item in LINES)
    with pytest.raises(NotEnoughEvidence) as raised:
        pool_masses(
            LINES, heterogeneity_scale=0.2, decisions=decisions, rng=np.random.default_rng(3)
        )
    assert "it was measured on a cast" in raised.value.found
    assert "line_decisions.csv" in raised.value.would_help


def test_a_decision_on_no_known_line_is_told_with_the_lines_there_are() -> None:
    decided, (caveat,) = decided_lines(LINES, [decision("line 9", "pool")])
    assert decided == LINES
    assert caveat.code == "decision without a line"
    assert "line 2" in caveat.text


def test_the_wrong_line_is_named_in_a_plain_sentence() -> None:
    lines = (*LINES, line("odd", draws(60, seed=9)))
    pooled = pool_masses(lines, heterogeneity_scale=0.2, rng=np.random.default_rng(3))
    told = {
        finding.key: finding.value.text
        for finding in pooled.findings
        if isinstance(finding.value, Statement)
    }
    assert "fits the others worst" in told["judgement.stand.odd"]
    assert "fits the others worst" not in told["judgement.stand.line 0"]


def test_every_way_to_pool_is_shown_and_one_is_the_verdict() -> None:
    pooled = pool_masses(LINES, heterogeneity_scale=0.2, rng=np.random.default_rng(3))
    options = {option.key: option for option in pooled.options}
    assert [option.key for option in pooled.options if option.default] == ["half_normal"]
    assert {"heavy_tailed", "common", "birge", "paule_mandel", "reml"} <= set(options)
    assert options["half_normal"].middle_kg == pytest.approx(np.median(pooled.mass_draws_kg))
    widths = {key: option.high_kg / option.low_kg for key, option in options.items()}
    assert widths["common"] <= widths["birge"] * 1.0001
    assert widths["common"] < widths["half_normal"] < widths["every_line_alone"] * 2


def hypothesis(key: str, lean: str, fat: str, prior: float | None) -> Hypothesis:
    return Hypothesis(
        ref=RowRef(table="hypotheses", row=2, row_id=key),
        hypothesis_id=key,
        title=key,
        lean_season=lean,
        fat_season=fat,
        prior=prior,
        reason="a test",
    )


MASSES = {"lean": draws(13), "mean": draws(15), "fat": draws(19)}
RIVALS = (("lean", "lean", "lean"), ("fat", "fat", "fat"), ("seasonal", "lean", "fat"))


@pytest.mark.parametrize(
    ("scores", "best"),
    [((1, 2, 1.5, 1), "lean"), ((5, 4.5, 4, 5), "fat"), ((1, 5, 1.5, 4.5), "seasonal")],
)
def test_the_hypothesis_that_explains_the_pictures_gains(
    scores: tuple[float, ...], best: str
) -> None:
    judged = judge_hypotheses(
        [hypothesis(*rival, 1 / 3) for rival in RIVALS],
        mass_by_state_kg=MASSES,
        bound=None,
        fasting_days=draws(50),
        pictures=[
            FatnessWitness(picture_id=str(place), title=f"picture {place}", score=score)
            for place, score in enumerate(scores)
        ],
        claims=[],
    )
    posteriors = {item.key: item.posterior or 0.0 for item in judged}
    assert max(posteriors, key=lambda key: posteriors[key]) == best
    assert sum(posteriors.values()) == pytest.approx(1)
    (seasonal,) = [item for item in judged if item.key == "seasonal"]
    assert seasonal.fasting_days is not None
    assert all(item.fasting_days is None for item in judged if item.key != "seasonal")


def test_no_odds_are_given_where_one_prior_is_missing() -> None:
    judged = judge_hypotheses(
        [hypothesis("lean", "lean", "lean", 0.5), hypothesis("fat", "fat", "fat", None)],
        mass_by_state_kg=MASSES,
        bound=None,
        fasting_days=None,
        pictures=[FatnessWitness(picture_id="1", title="one", score=1.0)],
        claims=[],
    )
    assert [item.posterior for item in judged] == [None, None]
    assert judged[0].explains == ("one",)
    assert judged[1].contradicts == ("one",)


def test_a_weight_far_from_every_season_speaks_against() -> None:
    (judged,) = judge_hypotheses(
        [hypothesis("lean", "lean", "lean", None)],
        mass_by_state_kg=MASSES,
        bound=None,
        fasting_days=None,
        pictures=[],
        claims=[
            WeightClaim(claim_id="1", account_id="a1", title="near", value_kg=14.0),
            WeightClaim(claim_id="2", account_id="a2", title="far", value_kg=60.0),
        ],
    )
    assert judged.explains == ("near",)
    assert judged.contradicts == ("far",)


def test_without_a_grown_body_only_the_mean_state_has_a_mass() -> None:
    (judged,) = judge_hypotheses(
        [hypothesis("seasonal", "lean", "fat", None)],
        mass_by_state_kg={"mean": draws(15)},
        bound=None,
        fasting_days=None,
        pictures=[],
        claims=[WeightClaim(claim_id="1", account_id="a1", title="near", value_kg=14.0)],
    )
    assert judged.masses_kg == {}
    assert judged.n_witnesses == 0
