import math

import numpy as np
import pytest

from bonewright.findings import RowRef, Statement
from bonewright.judgement.hypotheses import HypothesisJudged, WeightClaim, judge_hypotheses
from bonewright.judgement.overturn import StrengthBound
from bonewright.judgement.own_ratios import (
    OwnRatio,
    heard_once,
    names_hypothesis,
    own_ratios_finding,
    product_words,
)
from bonewright.study.model import Hypothesis

N_DRAWS = 500
MASSES = {state: np.full(N_DRAWS, kg) for state, kg in (("lean", 13.0), ("fat", 19.0))}


def hypothesis(key: str, state: str, prior: float | None = 0.5) -> Hypothesis:
    return Hypothesis(
        ref=RowRef(table="hypotheses", row=2, row_id=key),
        hypothesis_id=key,
        title=f"{state} all year",
        lean_season=state,
        fat_season=state,
        prior=prior,
        reason="a test",
    )


RIVALS = (hypothesis("hyp-1", "lean"), hypothesis("hyp-2", "fat"))


def own(
    ratio: float,
    speaks_for: str = "lean all year",
    *,
    account: str = "acc-1",
    is_copy: bool = False,
) -> OwnRatio:
    return OwnRatio(
        claim_id=f"clm-{account}-{ratio}",
        account_id=account,
        account_title=f"log {account}",
        statement="lean but sweet",
        ratio=ratio,
        speaks_for=speaks_for,
        is_copy=is_copy,
    )


def judged(
    *ratios: OwnRatio,
    rivals: tuple[Hypothesis, ...] = RIVALS,
    claims: tuple[WeightClaim, ...] = (),
) -> tuple[HypothesisJudged, ...]:
    return judge_hypotheses(
        rivals,
        mass_by_state_kg=MASSES,
        bound=StrengthBound(low_kg=np.full(N_DRAWS, 5.0), high_kg=np.full(N_DRAWS, 26.0)),
        fasting_days=None,
        pictures=[],
        claims=claims,
        own_ratios=ratios,
    )


def test_a_ratio_of_three_turns_even_odds_into_three_to_one() -> None:
    lean, fat = judged(own(3.0))
    assert lean.posterior == pytest.approx(0.75)
    assert fat.posterior == pytest.approx(0.25)
    assert lean.posterior_without_own == pytest.approx(0.5)
    assert lean.explains == ("log acc-1 ('lean but sweet')",)
    assert fat.own == ()


def test_independent_accounts_multiply_and_copies_add_nothing() -> None:
    lean, _ = judged(own(3.0), own(2.0, account="acc-2"), own(50.0, account="acc-3", is_copy=True))
    assert lean.ln_own == pytest.approx(math.log(6))
    assert lean.n_witnesses == 2


def test_an_account_is_heard_once_either_way() -> None:
    heard = heard_once([own(3.0), own(2.0), own(0.5), own(0.8), own(1.0, account="acc-2")])
    assert sorted(ratio.ratio for ratio in heard) == [0.5, 3.0]


@pytest.mark.parametrize("words", ["hyp-1", "Lean  all year", " LEAN ALL YEAR "])
def test_a_hypothesis_is_named_by_its_title_or_id(words: str) -> None:
    assert names_hypothesis(words, RIVALS[0])
    assert not names_hypothesis(words, RIVALS[1])


def test_a_weight_of_an_account_weighed_by_hand_is_not_weighed_again() -> None:
    heavy = WeightClaim(claim_id="c", account_id="acc-1", title="heavy", value_kg=19.0)
    alone = judged(claims=(heavy,))
    both = judged(own(3.0), claims=(heavy,))
    assert alone[0].ln_likelihood < alone[1].ln_likelihood
    assert both[0].ln_likelihood == both[1].ln_likelihood
    other = WeightClaim(claim_id="c", account_id="acc-2", title="heavy", value_kg=19.0)
    kept = judged(own(3.0), claims=(other,))
    assert kept[0].ln_likelihood == alone[0].ln_likelihood


def test_without_priors_own_ratios_give_no_odds() -> None:
    rivals = (RIVALS[0], hypothesis("hyp-2", "fat", None))
    for item in judged(own(3.0), rivals=rivals):
        assert (item.posterior, item.posterior_without_own) == (None, None)
    finding = own_ratios_finding([own(3.0)], rivals)
    assert finding is not None
    assert isinstance(finding.value, Statement)
    assert "enters no odds" in finding.value.text


def test_a_hypothesis_ruled_out_beforehand_stays_so_and_leaves_the_others_sound() -> None:
    rivals = (hypothesis("hyp-1", "lean", 0.0), hypothesis("hyp-2", "fat", 1.0))
    lean, fat = judged(own(1e300), own(1e300, account="acc-2"), rivals=rivals)
    assert (lean.posterior, fat.posterior) == (0.0, 1.0)


def test_ratios_for_what_is_no_hypothesis_are_told_and_enter_nothing() -> None:
    ratios = [own(4.0, "it could run"), own(0.5, "it could run", account="acc-2")]
    lean, fat = judged(*ratios)
    assert lean.posterior == fat.posterior == pytest.approx(0.5)
    finding = own_ratios_finding(ratios, RIVALS)
    assert finding is not None
    assert isinstance(finding.value, Statement)
    assert "times 2 by 2 independent accounts" in finding.value.text
    assert "enters no other result" in finding.value.text
    assert own_ratios_finding([], RIVALS) is None


def test_strength_is_told_as_the_heaviest_bearable_mass_over_the_mass() -> None:
    lean, fat = judged()
    assert lean.strength["lean"].median == pytest.approx(2.0)
    assert fat.strength["fat"].median == pytest.approx(26 / 19)


def test_huge_products_are_written_as_powers_of_ten() -> None:
    assert product_words(math.log(6.4)) == "6.4"
    assert product_words(2 * math.log(1e300)) == "10^600"
