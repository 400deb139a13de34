"""Claims of written accounts in order of date."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from bonewright.findings import Caveat, Exact, Finding, HowGot, Statement
from bonewright.quantity import Quantity
from bonewright.study.model import Account, Claim, DateSpan

__all__ = ["WeighedClaim", "claim_findings", "order_claims"]

_UNITS = {"weight": "kg", "height": "m", "length": "m"}
_Z95 = 1.959963984540054


@dataclass(frozen=True, slots=True, kw_only=True)
class WeighedClaim:
    """A claim with its account; ``value`` in kg (weight) or m (height, length), else None.

    ``low`` and ``high`` bound it (95 %) where it stood in an old unit. A likelihood ratio is
    the person's own.
    """

    claim_id: str
    account_id: str
    account_title: str
    date: DateSpan
    standing: str
    is_copy: bool
    kind: str
    value: float | None
    statement: str
    low: float | None = None
    high: float | None = None
    location: str | None = None
    distance: str | None = None
    likelihood_ratio: float | None = None
    likelihood_ratio_for: str | None = None


def order_claims(claims: Sequence[Claim], accounts: Sequence[Account]) -> tuple[WeighedClaim, ...]:
    """Join claims with their accounts, in order of the accounts' dates.

    Claims of accounts not given (set aside, say) are left out.
    """
    by_id = {account.account_id: account for account in accounts}
    joined = [(by_id[claim.account_id], claim) for claim in claims if claim.account_id in by_id]
    joined.sort(key=lambda pair: (pair[0].date.middle, pair[1].claim_id))
    return tuple(
        WeighedClaim(
            claim_id=claim.claim_id,
            account_id=account.account_id,
            account_title=account.title,
            date=account.date,
            standing=account.standing,
            is_copy=account.copy_of is not None or account.standing == "copied",
            kind=claim.kind,
            value=claim.value,
            statement=claim.statement,
            low=claim.low,
            high=claim.high,
            location=claim.location,
            distance=claim.distance,
            likelihood_ratio=claim.likelihood_ratio,
            likelihood_ratio_for=claim.likelihood_ratio_for,
        )
        for account, claim in joined
    )


def claim_findings(
    ordered: Sequence[WeighedClaim],
    claims: Sequence[Claim],
    *,
    rng: np.random.Generator,
    n_draws: int,
) -> tuple[Finding, ...]:
    """Give every claim of a number as a finding, and likelihood ratios as the person's own.

    Words alone stay in the list of claims. Draws of one old unit are shared by its claims:
    whatever a pound was, it was that in every account that used it.
    """
    rows: Mapping[str, Claim] = {claim.claim_id: claim for claim in claims}
    units = sorted({claim.unit for claim in claims if claim.unit is not None})
    shared = {unit: rng.standard_normal(n_draws) for unit in units}
    findings = []
    for claim in ordered:
        row = rows[claim.claim_id]
        if claim.value is not None and claim.kind in _UNITS:
            z = shared.get(row.unit or "")
            findings.append(_of_number(claim, row, z=z))
        if claim.likelihood_ratio is not None and claim.likelihood_ratio_for is not None:
            findings.append(_likelihood(claim, row))
    return tuple(findings)


def _of_number(claim: WeighedClaim, row: Claim, *, z: np.ndarray | None) -> Finding:
    value, unit = claim.value or 0.0, _UNITS[claim.kind]
    refs = (row.ref,) if row.unit_ref is None else (row.ref, row.unit_ref)
    amount: Quantity | Exact
    if z is None or claim.low is None or claim.high is None:
        amount = Exact(
            value=value,
            unit=unit,
            why_no_interval="a claim as written; the account gives no interval",
        )
        formula = "as the account has it, converted to present units"
    else:
        arm = np.where(z < 0, value - claim.low, claim.high - value) / _Z95
        amount = Quantity(draws=np.maximum(value + arm * z, value / 100), unit=unit)
        formula = f"as the account has it, times what one {row.unit} may have been"
    return Finding(
        key=f"testimony.claim.{claim.claim_id}",
        step="testimony",
        title=f"{claim.kind.capitalize()} claimed by {claim.account_title}"
        f" ({claim.date.text}, {'a copy' if claim.is_copy else claim.standing}{_where(claim)})",
        value=amount,
        how=HowGot(formula=formula, rows=refs),
    )


def _likelihood(claim: WeighedClaim, row: Claim) -> Finding:
    ratio = claim.likelihood_ratio or 1.0
    odds = f"{ratio:g} times likelier" if ratio >= 1 else f"{1 / ratio:.3g} times less likely"
    copy = Caveat(
        code="claim of a copy",
        text="The account is a copy: what it repeats was said before and adds nothing.",
        rows=(row.ref,),
    )
    return Finding(
        key=f"testimony.likelihood.{claim.claim_id}",
        step="testimony",
        title=f"What '{claim.statement}' is worth, by your own reckoning",
        value=Statement(
            text=f"You hold the claim of {claim.account_title}{_where(claim)} to be {odds} if"
            f" it is true that {claim.likelihood_ratio_for} than if it is false. It enters the odds"
            " of a rival hypothesis of that name, and no other result."
        ),
        how=HowGot(formula="entered in the claims table, not computed", rows=(row.ref,)),
        caveats=(copy,) if claim.is_copy else (),
    )


def _where(claim: WeighedClaim) -> str:
    distance = None if claim.distance in {None, "not said"} else f"seen {claim.distance}"
    parts = [part for part in (claim.location, distance) if part]
    return f", {', '.join(parts)}" if parts else ""
