"""How much one more reading would shrink the wanted uncertainties: c-optimal design, one reading ahead.

The information of independent readings adds up: with the sensitivities j (change of the level for a change of each
parameter) of a reading divided by its noise, the matrix of information grows by j j', and its inverse, the covariance
C of the parameters, shrinks by (C j)(C j)' / (1 + j' C j). A figure with gradient g has the variance g' C g.
References: V. V. Fedorov, Theory of Optimal Experiments (1972), chapters 2 and 4 (from memory); J. Sherman and
W. J. Morrison, Ann. Math. Statist. 21 (1950) 124 (from memory), for the update of the inverse.
"""

import numpy as np

from sequences.numerics.curves import Array

# With several figures wanted the worst should rule, but if it alone counted the choice would flutter between them:
# a norm of this order lets the others count a little.
_WORST_RULES = 4


def variances(covariance: Array, gradients: Array) -> Array:
    """Variance of each figure.

    Args:
        covariance: Shape (p, p), covariance of the parameters.
        gradients: Shape (k, p), gradient of each figure by the parameters.

    Returns:
        Shape (k,).
    """
    return np.asarray(np.einsum("ki,ij,kj->k", gradients, covariance, gradients))


def variances_removed(covariance: Array, gradients: Array, sensitivities: Array, noise_db: Array) -> Array:
    """How much of the variance of each figure one reading at each candidate would remove.

    Args:
        covariance: Shape (p, p), covariance of the parameters after the readings so far.
        gradients: Shape (k, p), gradient of each figure by the parameters.
        sensitivities: Shape (m, p), change of the level at each candidate for a unit change of each parameter, in dB.
        noise_db: Shape (m,), one sigma of a reading at each candidate.

    Returns:
        Shape (m, k), never negative.
    """
    spread = sensitivities @ covariance
    predicted = np.einsum("mi,mi->m", spread, sensitivities)
    removed: Array = (spread @ gradients.T) ** 2 / (noise_db**2 + predicted)[:, np.newaxis]
    return removed


def worst(shares: Array) -> Array:
    """The worst of several shares of variance, in such a way that the others count a little too.

    Args:
        shares: Shape (..., k), each variance as a share of the variance asked for.

    Returns:
        Shape (...), at least the greatest share and at most k^(1/4) of it.
    """
    powers: Array = np.sum(np.maximum(shares, 0.0) ** _WORST_RULES, axis=-1) ** (1.0 / _WORST_RULES)
    return powers
