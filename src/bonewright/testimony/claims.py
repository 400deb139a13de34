"""Claims of written accounts in order of date."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from bonewright.findings import Exact, Finding, HowGot
from bonewright.study.model import Account, Claim, DateSpan

__all__ = ["WeighedClaim", "claim_findings", "order_claims"]

_UNITS = {"weight": "kg", "height": "m"}


@dataclass(frozen=True, slots=True, kw_only=True)
class WeighedClaim:
    """A claim with its account; ``value`` in kg (weight) or m (height), else None."""

    claim_id: str
    account_id: str
    account_title: str
    date: DateSpan
    standing: str
    is_copy: bool
    kind: str
    value: float | None
    statement: str


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
        )
        for account, claim in joined
    )


def claim_findings(ordered: Sequence[WeighedClaim], claims: Sequence[Claim]) -> tuple[Finding, ...]:
    """Give every claim of a number as a finding; words alone stay in the list of claims."""
    rows: Mapping[str, Claim] = {claim.claim_id: claim for claim in claims}
    return tuple(
        Finding(
            key=f"testimony.claim.{claim.claim_id}",
            step="testimony",
            title=f"{claim.kind.capitalize()} claimed by {claim.account_title}"
            f" ({claim.date.text}, {'a copy' if claim.is_copy else claim.standing})",
            value=Exact(
                value=claim.value,
                unit=_UNITS[claim.kind],
                why_no_interval="a claim as written; the account gives no interval",
            ),
            how=HowGot(
                formula="as the account has it, converted to present units",
                rows=(rows[claim.claim_id].ref,),
            ),
        )
        for claim in ordered
        if claim.value is not None and claim.kind in _UNITS
    )
