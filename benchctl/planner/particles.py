"""Possible truths, drawn by how well they fit what was seen: an annealed cloud of particles.

The particles start as a draw of the prior (a standard normal in every direction) and the likelihood is
turned up from 0 to 1 in steps, each as large as keeps half of them in effect; at each step they are drawn
anew by weight and moved by Metropolis steps of the cloud's own shape (annealed importance sampling, Neal
2001; sequential Monte Carlo samplers, Del Moral et al. 2006; both from memory). The seed is fixed: the same
log gives the same answer.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from benchctl.planner.pits import Array

PARTICLES = 400
_SEED = 460
_KEEP = 0.5
_MOVES, _LAST_MOVES = 2, 20
_KEPT = (0.1, 0.4, 0.8)
"""Shares of a particle's place that a step keeps, one drawn for each: large steps and small ones."""
_WIDER = 1.1
"""Particles drawn twice make the cloud's shape too narrow; steps are drawn so much wider."""

LogLikelihood = Callable[[Array], Array]


def settle(log_likelihood: LogLikelihood, size: int) -> Array:
    """Equally likely truths, a row a particle and `size` columns in units of the prior's own spread."""
    luck = np.random.Generator(np.random.PCG64(_SEED))
    cloud: Array = luck.standard_normal((PARTICLES, size))
    fit, heat = log_likelihood(cloud), 0.0
    while heat < 1.0:
        step = _step(fit, 1.0 - heat)
        heat = heat + step if heat + step < 1.0 - 1e-9 else 1.0
        weights = _weights(step * fit)
        chosen = _draw(weights, luck)
        cloud, fit = cloud[chosen], fit[chosen]
        for _ in range(_MOVES if heat < 1.0 else _LAST_MOVES):
            cloud, fit = _move(cloud, fit, heat, log_likelihood, luck)
    return cloud


def _step(fit: Array, most: float) -> float:
    """The largest step of heat that leaves the wanted share of the particles in effect."""
    if _effect(_weights(most * fit)) >= _KEEP:
        return most
    low, high = 0.0, most
    for _ in range(40):
        middle = (low + high) / 2
        low, high = (middle, high) if _effect(_weights(middle * fit)) >= _KEEP else (low, middle)
    return max(low, 1e-9)


def _weights(logs: Array) -> Array:
    weights = np.exp(logs - logs.max())
    return np.asarray(weights / weights.sum())


def _effect(weights: Array) -> float:
    """Share of the particles that the weights leave in effect, 1 / (n sum w^2)."""
    return float(1.0 / (weights.size * (weights @ weights)))


def _shape(cloud: Array) -> tuple[Array, Array]:
    """Middle of the cloud, and the square root of its covariance, a little wider."""
    middle = cloud.mean(axis=0)
    apart = cloud - middle
    covariance = apart.T @ apart / len(cloud) + 1e-9 * np.eye(cloud.shape[1])
    return np.asarray(middle), np.asarray(_WIDER * np.linalg.cholesky(covariance))


def _draw(weights: Array, luck: np.random.Generator) -> Array:
    """Places of the particles drawn by weight, evenly spread (systematic resampling)."""
    points = (luck.random() + np.arange(weights.size)) / weights.size
    return np.minimum(np.searchsorted(np.cumsum(weights), points), weights.size - 1)


def _move(
    cloud: Array,
    fit: Array,
    heat: float,
    log_likelihood: LogLikelihood,
    luck: np.random.Generator,
) -> tuple[Array, Array]:
    """One Metropolis step of every particle: towards the cloud's middle and a draw of its shape beside it.

    Were the target a normal of that shape, every step would be taken (Crank-Nicolson proposal about a fitted
    normal, Rudolf and Sprungk 2018, from memory).
    """
    middle, root = _shape(cloud)
    count = len(cloud)
    kept = luck.choice(_KEPT, (count, 1))
    here = np.asarray(np.linalg.solve(root, (cloud - middle).T).T, dtype=float)
    there: Array = kept * here + np.sqrt(1 - kept**2) * luck.standard_normal(cloud.shape)
    asked = middle + there @ root.T
    found = log_likelihood(asked)
    gain = heat * (found - fit) - 0.5 * (_squares(asked) - _squares(cloud))
    gain += 0.5 * (_squares(there) - _squares(here))
    taken = np.log(luck.random(count)) < gain
    return np.where(taken[:, None], asked, cloud), np.where(taken, found, fit)


def _squares(values: Array) -> Array:
    return np.asarray((values**2).sum(axis=1))
