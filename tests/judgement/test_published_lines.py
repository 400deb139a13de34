import numpy as np
import pytest

from bonewright.findings import Caveat, Finding, HowGot, Statement
from bonewright.judgement.pooling import Line, PooledMass, pool_masses
from bonewright.judgement.published_lines import SCATTER_NOT_INCLUDED, judge_published
from bonewright.judgement.verdict import deliver_verdict
from bonewright.quantity import Quantity


@pytest.fixture(scope="module")
def pooled() -> PooledMass:
    rng = np.random.default_rng(1)
    lines = tuple(
        Line(
            key=key,
            title=key,
            mass_draws_kg=4.5 * np.exp(rng.normal(0, 0.05, 4000)),
            pooled=True,
            reason="a test",
            rests_on=(),
        )
        for key in ("relatives.mass.femur.CD", "body.mass.maquette-1")
    )
    return pool_masses(lines, heterogeneity_scale=0.05, rng=rng)


def published(kg: float, *, scatter_known: bool) -> Finding:
    rng = np.random.default_rng(2)
    lacking = Caveat(code=SCATTER_NOT_INCLUDED, text="bone only")
    return Finding(
        key="relatives.published.all_birds",
        step="relatives",
        title="Body mass by a published equation for all birds (femur CD)",
        value=Quantity(draws=kg * np.exp(rng.normal(0, 0.05, 4000)), unit="kg"),
        how=HowGot(formula="a test"),
        caveats=() if scatter_known else (lacking,),
    )


def words(finding: Finding | None) -> str:
    assert finding is not None
    assert isinstance(finding.value, Statement)
    return finding.value.text


def test_an_equation_far_above_the_verdict_is_said_to_disagree(pooled: PooledMass) -> None:
    judged = judge_published([published(7.9, scatter_known=True)], pooled)
    assert "above the verdict's interval: it disagrees" in words(judged)
    assert judged is not None
    assert [caveat.code for caveat in judged.caveats] == ["published equation disagrees"]


def test_an_equation_inside_the_verdict_does_not_disagree(pooled: PooledMass) -> None:
    judged = judge_published([published(4.5, scatter_known=True)], pooled)
    assert "disagrees" not in words(judged)
    assert judged is not None
    assert judged.caveats == ()


def test_unknown_scatter_is_said(pooled: PooledMass) -> None:
    assert "is not known here" in words(
        judge_published([published(4.5, scatter_known=False)], pooled)
    )
    assert "is not known here" not in words(
        judge_published([published(4.5, scatter_known=True)], pooled)
    )


def test_without_published_equations_nothing_is_judged(pooled: PooledMass) -> None:
    assert judge_published([], pooled) is None


def test_a_disagreeing_equation_is_named_beside_the_verdict(pooled: PooledMass) -> None:
    verdict = deliver_verdict(
        pooled=pooled,
        other_findings=(published(7.9, scatter_known=False),),
        unanswered={},
    )
    assert "published equation for all birds" in verdict.agreement_sentence
    assert "judgement.published" in [finding.key for finding in verdict.findings]
