import numpy as np
import pytest

from bonewright.findings import Exact, RowRef, Statement
from bonewright.quantity import Quantity
from bonewright.study.model import Account, Claim, DateSpan
from bonewright.testimony.claims import claim_findings, order_claims

ACCOUNTS = tuple(
    Account(
        ref=RowRef(table="accounts", row=number + 2, row_id=f"a{number}"),
        account_id=f"a{number}",
        title=f"account {number}",
        date=DateSpan(earliest=1650.0 + number, latest=1651.0 + number, text="about then"),
        standing=standing,
        copy_of=None,
        creator=None,
        passage=None,
        reliability=None,
        source_id=None,
    )
    for number, standing in enumerate(("eyewitness", "copied"))
)
UNIT = RowRef(table="units", row=2, row_id="pound")


def claim(number: int, account: str, **more: object) -> Claim:
    settings = {
        "ref": RowRef(table="claims", row=number + 2, row_id=f"c{number}"),
        "claim_id": f"c{number}",
        "account_id": account,
        "kind": "weight",
        "value": None,
        "statement": "so it is written",
    }
    return Claim(**{**settings, **more})


def findings(*claims: Claim) -> dict[str, object]:
    made = claim_findings(
        order_claims(claims, ACCOUNTS), claims, rng=np.random.default_rng(1), n_draws=20_000
    )
    return {finding.key: finding for finding in made}


def test_a_claim_in_an_old_unit_carries_the_units_range_and_row() -> None:
    made = findings(claim(0, "a0", value=13.6, low=13.2, high=14.1, unit="pound", unit_ref=UNIT))[
        "testimony.claim.c0"
    ]
    assert isinstance(made.value, Quantity)
    low, middle, high = np.quantile(made.value.draws, [0.025, 0.5, 0.975])
    assert (low, middle, high) == pytest.approx((13.2, 13.6, 14.1), abs=0.03)
    assert UNIT in made.how.rows


def test_one_old_unit_is_the_same_in_every_account_that_used_it() -> None:
    made = findings(
        claim(0, "a0", value=10.0, low=9.0, high=11.0, unit="pound", unit_ref=UNIT),
        claim(1, "a1", value=20.0, low=18.0, high=22.0, unit="pound", unit_ref=UNIT),
    )
    first, second = (made[f"testimony.claim.c{i}"].value.draws for i in (0, 1))
    assert second == pytest.approx(2 * first)


def test_a_claim_in_a_present_unit_has_no_interval_and_says_why() -> None:
    made = findings(claim(0, "a0", value=15.0))["testimony.claim.c0"]
    assert isinstance(made.value, Exact)
    assert made.value.why_no_interval


def test_a_likelihood_ratio_is_shown_as_the_persons_own_and_a_copys_is_warned_of() -> None:
    made = findings(
        claim(0, "a0", kind="movement", likelihood_ratio=4.0, likelihood_ratio_for="it could run"),
        claim(1, "a1", kind="movement", likelihood_ratio=0.5, likelihood_ratio_for="it could run"),
        claim(2, "a0", kind="movement"),
    )
    assert set(made) == {"testimony.likelihood.c0", "testimony.likelihood.c1"}
    for name, words, n_caveats in (("c0", "4 times likelier", 0), ("c1", "2 times less", 1)):
        finding = made[f"testimony.likelihood.{name}"]
        assert isinstance(finding.value, Statement)
        assert words in finding.value.text
        assert "enters the odds of a rival hypothesis" in finding.value.text
        assert len(finding.caveats) == n_caveats
