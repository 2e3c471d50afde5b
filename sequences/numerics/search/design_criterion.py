"""How much one more reading would shrink the wanted uncertainties: c-optimal design, one reading ahead.

Each kind of curve that leads predicts the level at a candidate frequency and the wanted figures, both uncertain, and
the more a figure and the level there vary together, the more a reading there tells about the figure. With the
sensitivities j of the level to the parameters, the gradient g of a figure and the covariance C of the parameters, the
level has the variance j' C j, the figure g' C g, and the two have the covariance g' C j. Over several kinds, each with
its share of the evidence, how far the kinds disagree adds to all three: so a reading may also be worth taking because
it tells the kinds apart. A reading with noise n then takes (covariance)^2 / (n^2 + variance of the level) off the
variance of the figure, which for one kind is exact and for several is the best that a linear estimate can do.

References: V. V. Fedorov, Theory of Optimal Experiments (1972), chapters 2 and 4 (from memory); the moments of a
mixture and the linear estimate are in any text on regression.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sequences.numerics.arrays import Array

# With several figures wanted the worst should rule, but if it alone counted the choice would flutter between them:
# a norm of this order lets the others count a little.
_WORST_RULES = 4


@dataclass(frozen=True, slots=True)
class Prediction:
    """What one kind of curve says.

    share: of the evidence. figures: shape (k,). gradients: shape (k, p). covariance: shape (p, p), of its parameters.
    level_db: shape (m,), at the candidate frequencies. sensitivities: shape (m, p), derivatives of these levels.
    """

    share: float
    figures: Array
    gradients: Array
    covariance: Array
    level_db: Array
    sensitivities: Array


def variances_removed(predictions: Sequence[Prediction], noise_db: Array) -> Array:
    """How much of the variance of each figure one reading at each candidate would remove.

    Args:
        predictions: Of one kind or more, with shares that add up to 1.
        noise_db: Shape (m,), one sigma of a reading at each candidate.

    Returns:
        Shape (m, k), never negative.
    """
    figures = sum(one.share * one.figures for one in predictions)
    level = sum(one.share * one.level_db for one in predictions)
    together = np.zeros((len(noise_db), len(predictions[0].figures)))
    variance = np.zeros(len(noise_db))
    for one in predictions:
        spread = one.sensitivities @ one.covariance
        apart = one.level_db - level
        together += one.share * (spread @ one.gradients.T + np.outer(apart, one.figures - figures))
        variance += one.share * (np.einsum("mi,mi->m", spread, one.sensitivities) + apart**2)
    removed: Array = together**2 / (noise_db**2 + variance)[:, np.newaxis]
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
