"""How often the pooled interval holds the truth, and how often a wrong line is named.

1,000 simulated cases: 4 to 6 lines of 8 to 20 % own uncertainty, 0 to 3 inputs that two or
more of them share, methods that lean by tau (half-normal, the scale of the prior), and 0, 1 or
2 lines that are wrong by a factor of 2 to 4, either way. Run it with a number of cases to
change how many.
"""

import sys

import numpy as np
from numpy.typing import NDArray

from bonewright.judgement.mixture import Beliefs, MixturePool, named_above, pool_of_mixture

TRUE_LN = np.log(15.0)
N_DRAWS = 2000
SCALE = 0.2
WRONG_SHARE = 0.1
NAMED_ABOVE = named_above(WRONG_SHARE)


def simulate(
    rng: np.random.Generator, *, n_shared: int, n_wrong: int, scale: float
) -> tuple[NDArray[np.float64], frozenset[int]]:
    """Return the lines' ln draws and which of them are wrong."""
    n_lines = int(rng.integers(4, 7))
    said = TRUE_LN + rng.normal(0, abs(rng.normal(0, scale)), n_lines)
    draws = np.zeros((n_lines, N_DRAWS))
    own_sd = rng.uniform(0.08, 0.2, n_lines)
    said += rng.normal(0, own_sd)
    draws += rng.normal(0, own_sd[:, None], draws.shape)
    for _ in range(n_shared):
        sharing = rng.permutation(n_lines)[: rng.integers(2, n_lines + 1)]
        sd = rng.uniform(0.04, 0.12)
        said[sharing] += rng.normal(0, sd)
        draws[sharing] += rng.normal(0, sd, N_DRAWS)
    wrong = rng.permutation(n_lines)[:n_wrong]
    said[wrong] += rng.choice([-1, 1], n_wrong) * np.log(rng.uniform(2, 4, n_wrong))
    draws += (said - draws.mean(axis=1))[:, None]
    return draws, frozenset(int(line) for line in wrong)


def named(pool: MixturePool) -> frozenset[int]:
    return frozenset(int(line) for line in np.flatnonzero(pool.wrong > NAMED_ABOVE))


def measure(beliefs: Beliefs, *, cases: int, scale: float = SCALE) -> None:
    for n_wrong in (0, 1, 2):
        covered, hit, false, width = 0, 0, 0, []
        for case in range(cases):
            rng = np.random.default_rng([8, n_wrong, case])
            draws, wrong = simulate(rng, n_shared=case % 4, n_wrong=n_wrong, scale=scale)
            pool = pool_of_mixture(draws, beliefs, rng=rng)
            low, high = np.quantile(pool.ln_mass, [0.025, 0.975])
            covered += bool(low <= TRUE_LN <= high)
            width.append(high - low)
            hit += wrong <= named(pool)
            false += bool(named(pool) - wrong)
        print(
            f"  {n_wrong} wrong: 95 % interval covers {100 * covered / cases:.1f} %;"
            f" median width {np.median(width):.2f} ln;"
            + (f" every wrong line named in {100 * hit / cases:.1f} %;" if n_wrong else "")
            + f" a right line named in {100 * false / cases:.1f} %"
        )


def main() -> None:
    cases = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    for title, beliefs in (
        ("Normal pool (wrong lines not foreseen)", Beliefs(heterogeneity_scale=SCALE)),
        ("Heavy-tailed pool", Beliefs(heterogeneity_scale=SCALE, wrong_share=WRONG_SHARE)),
    ):
        print(title)
        measure(beliefs, cases=cases)


if __name__ == "__main__":
    main()
