import numpy as np

from bonewright.findings import Caveat, Finding, HowGot, Statement
from bonewright.judgement.pooling import Line, PooledMass, pool_masses
from bonewright.judgement.verdict import deliver_verdict


def statement(
    key: str, text: str, *, inputs: tuple[str, ...] = (), caveats: tuple[str, ...] = ()
) -> Finding:
    return Finding(
        key=key,
        step=key.partition(".")[0],
        title=key,
        value=Statement(text=text),
        how=HowGot(formula="a test", inputs=inputs),
        caveats=tuple(Caveat(code=code, text=code) for code in caveats),
    )


def pooled_mass() -> PooledMass:
    rng = np.random.default_rng(1)
    lines = tuple(
        Line(
            key=key,
            title=key,
            mass_draws_kg=15.2 * np.exp(rng.normal(0, 0.08, 5000)),
            pooled=True,
            reason="a test",
            rests_on=(),
        )
        for key in ("relatives.mass.femur.CD", "body.mass.maquette-1")
    )
    return pool_masses(lines, heterogeneity_scale=0.05, rng=rng)


FOUND = (
    statement("movement.could_run", "It could very likely run, by this test."),
    statement("testimony.change.independent", "The pictures change.", caveats=("few pictures",)),
    statement("relatives.mass.femur.CD", "a line", caveats=("beyond relatives",)),
    statement("relatives.unrelated", "something else", caveats=("of no concern",)),
)


def test_the_sentences_are_those_of_the_findings() -> None:
    verdict = deliver_verdict(pooled=pooled_mass(), other_findings=FOUND, unanswered={})
    assert verdict.mass_sentence.startswith("The average animal weighed about 15")
    assert " kg (" in verdict.mass_sentence
    assert "agree" in verdict.agreement_sentence
    assert verdict.movement_sentence == "It could very likely run, by this test."
    assert verdict.testimony_sentence == "The pictures change."


def test_caveats_come_from_what_the_sentences_rest_on_and_from_nothing_else() -> None:
    verdict = deliver_verdict(pooled=pooled_mass(), other_findings=FOUND, unanswered={})
    codes = [caveat.code for caveat in verdict.caveats]
    assert {"few pictures", "beyond relatives", "few lines"} <= set(codes)
    assert "of no concern" not in codes
    assert len(codes) == len(set(codes))


def test_without_answers_every_sentence_says_so_and_why() -> None:
    verdict = deliver_verdict(
        pooled=None,
        other_findings=(),
        unanswered={
            "judgement": "No line.",
            "movement": "No sections.",
            "testimony": "No pictures.",
        },
    )
    assert verdict.mass_sentence.endswith("cannot be said yet. No line.")
    assert verdict.movement_sentence.endswith("cannot be said yet. No sections.")
    assert verdict.testimony_sentence.endswith("cannot be said yet. No pictures.")
    assert verdict.agreement_sentence


def test_each_sentence_is_a_finding_of_its_own_tied_to_its_source() -> None:
    verdict = deliver_verdict(pooled=pooled_mass(), other_findings=FOUND, unanswered={})
    assert {finding.key: finding.how.inputs for finding in verdict.findings} == {
        "judgement.verdict.mass": ("judgement.mass",),
        "judgement.verdict.agreement": ("judgement.agreement",),
        "judgement.verdict.movement": ("movement.could_run",),
        "judgement.verdict.testimony": ("testimony.change.independent",),
    }
