"""How well could anyone reckon? `python -m tests.benchmarks.workshop_bound [--jobs N]`.

The reckoner of this script knows what no planner can: how the workshop makes its glass, its people and its
luck, with every spread, and this job's bench but for its zone factors. Not known to it are only the draws of
the job: damage, zone factors, coefficient, pace, and the person's habits. Given the same scores it holds the
true law of what is left (but for sums over three points of a look's bias and a zone's cluster), so nobody's
middle errs less over many jobs. The planner is set beside it on the same jobs (tuning seeds). Drawn by the
planner's own sampler with more particles; 3 s a job on a free core.
"""

from __future__ import annotations

import argparse
import os
from dataclasses import dataclass

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np
from scipy.special import betainc, gammaln, ndtr

from benchctl.models.inspection import PITS_COUNTABLE
from benchctl.planner import particles
from benchctl.planner.history import History
from benchctl.planner.pits import Array
from benchctl.planner.progress import ZONES, Reckoning
from tests.benchmarks.workshop import RINGS, Damage, Work, run_out, start
from tests.benchmarks.workshop_jobs import history_of
from tests.benchmarks.workshop_proof import progress

STAGE = 0.75
PARTICLES = 600
RING_AT = 8
PERSON_AT = RING_AT + RINGS
PACE_AT = PERSON_AT + 8
_MOST = 60
_BIAS, _BIAS_WEIGHT = np.polynomial.hermite_e.hermegauss(3)
_CLUSTER, _CLUSTER_WEIGHT = np.polynomial.hermite_e.hermegauss(3)


def even(unknown: Array, low: float, high: float) -> Array:
    """A uniform draw from a standard normal one, with two axes more for looks and rings."""
    return np.asarray((low + (high - low) * ndtr(unknown))[:, None, None])


@dataclass
class Guess:
    """Particles by name; arrays are particles x 1 x 1 or particles x 1 x rings."""

    damage: Damage
    factor: Array
    rings: Array
    taste: Array
    look_sd: Array
    zone_sd: Array
    seen: Array
    zone_spread: Array
    field_spread: Array
    dust: Array
    spot: Array


def named(cloud: Array, work: Work) -> Guess:
    """The draws of `workshop._glass`, `_bench` and `_person`, from standard normal ones."""
    z = cloud
    end = 1.2 * work.job.mirror.last_abrasive_m * np.exp(even(z[:, 0], -0.62, 0.62))
    rings = z[:, RING_AT:PERSON_AT].copy()
    rings[:, :ZONES] *= 0.05  # zone factors and zones' ends, 3 and 4 %: only their ratio shows
    rings[:, ZONES] *= np.hypot(0.05, 0.1)
    slope = 0.03 * z[:, 7, None] * np.linspace(-1, 1, RINGS)
    half = ndtr(z[:, 6])
    over = np.where(half < 0.5, 0.0, (half - 0.5) * 2 * 0.004)[:, None, None]
    end = np.repeat(end, RINGS, axis=2)
    damage = Damage(
        300 * np.exp(0.6 * z[:, 2, None, None]),
        end * even(z[:, 3], 0.16, 0.42),
        end,
        even(z[:, 4], 0.85, 1.2),  # type: ignore[arg-type]
        even(z[:, 5], 0.03, 0.12),  # type: ignore[arg-type]
        over,
    )
    p = z[:, PERSON_AT:PACE_AT].T
    return Guess(
        damage=damage,
        factor=np.exp(even(z[:, 1], np.log(0.55), np.log(1.8))),
        rings=np.exp(slope + rings)[:, None, :],
        taste=even(p[0], 0.85, 1.25),
        look_sd=even(p[1], 0.1, 0.4),
        zone_sd=even(p[2], 0.2, 0.6),
        seen=even(p[3], 0.85, 1.0),
        zone_spread=even(p[4], 0.1, 0.35),
        field_spread=even(p[5], 0.1, 0.35),
        dust=even(p[6], 0.0, 0.04),
        spot=np.exp(0.4 * p[7])[:, None, None],
    )


class Knowing:
    """One job at a stage, reckoned with the workshop's own laws."""

    def __init__(self, work: Work, history: History, after: int) -> None:
        self.work, self.after = work, after
        self.looks = history.until(after).looks
        bench, segments = work.bench, history.segments[:after]
        trims = 1 - 0.015 * (np.arange(after + _MOST) % 7)
        self.step = np.array(
            [
                bench.per_turn(work.offset_m, one.spin_ratio or 0.92, one.load_n) * one.useful_turns
                for one in segments
            ]
        )
        self.step = self.step / bench.factors * trims[:after, None]
        turns = work.job.segment.work_rpm * work.job.segment.length_s / 60
        each = bench.per_turn(work.offset_m, 0.92, work.job.load_n) * turns
        self.each, self.trims = 0.98 * each / bench.factors, trims[after:]
        self.mean_each = float(each[:ZONES].mean())
        self._sort()

    def _sort(self) -> None:
        """The scores in arrays: grey by look and ring, counts and spots in rows with their places."""
        rings = [(i, r, one) for i, look in enumerate(self.looks) for r, one in enumerate(look.rings)]
        grey = np.array([[one.grey or 0.0 for one in look.rings] for look in self.looks])
        half = self.work.person.grey_step / 2
        self.grey = np.where(grey <= 0, -np.inf, grey - half), np.where(grey >= 10, np.inf, grey + half)
        counted = [(i, r, one.pits) for i, r, one in rings if one.pits]
        self.pits_at = np.array([(i, r) for i, r, _ in counted], dtype=int).reshape(-1, 2).T
        self.pits = np.array(
            [[one if isinstance(one, int) else -1 for one in fields] for *_, fields in counted], dtype=int
        )
        spots = [(i, r, one.laser_spot) for i, r, one in rings if one.laser_spot is not None]
        self.spots_at = np.array([(i, r) for i, r, _ in spots], dtype=int).reshape(-1, 2).T
        self.spots = np.array([spot for *_, spot in spots], dtype=int)

    def left(self) -> Array:
        """Segments left by zone, 10, 50, 90 %."""
        cloud = particles.settle(self.fit, PACE_AT + 2 * self.after)
        guess = named(cloud, self.work)
        paces, wander = self._paces(cloud)
        depth = (self.step * guess.factor * guess.rings * paces[:, :, None]).sum(axis=1)
        clear = guess.damage.clear_m()[:, 0]
        luck = np.random.default_rng(self.work.seed)
        left = np.full(depth.shape, float(_MOST))
        left[depth >= clear] = 0.0
        for ahead in range(_MOST):
            wander = 0.8 * wander + luck.normal(0.0, 0.05, len(wander))
            pace = np.exp(wander + luck.normal(0.0, 0.05, len(wander))) * self.trims[ahead]
            more = self.each * (guess.factor * guess.rings)[:, 0] * pace[:, None]
            ends = (depth < clear) & (depth + more >= clear)
            left[ends] = (ahead + (clear - depth) / more)[ends]
            depth = depth + more
        return np.asarray(np.percentile(left[:, :ZONES], (10, 50, 90), axis=0).T)

    def _paces(self, cloud: Array) -> tuple[Array, Array]:
        """Pace of each segment done, and where its wander stands."""
        shocks, noise = np.split(0.05 * cloud[:, PACE_AT:], 2, axis=1)
        wander, logs = np.zeros(len(cloud)), np.empty(noise.shape)
        for at in range(self.after):
            wander = 0.8 * wander + shocks[:, at]
            logs[:, at] = wander + noise[:, at]
        return np.exp(logs), wander

    def fit(self, cloud: Array) -> Array:
        """ln of the chance of all scores, by the workshop's own laws; a value a particle."""
        guess, (paces, _) = named(cloud, self.work), self._paces(cloud)
        sums = np.cumsum(self.step * paces[:, :, None], axis=1) * guess.factor * guess.rings
        share = guess.damage.left(sums[:, [look.after - 1 for look in self.looks]])
        segments = guess.damage.end[:, 0, 0] / (self.mean_each * guess.factor[:, 0, 0])
        fit = np.where((segments > 14) & (segments < 45), 0.0, -1e4)
        return np.asarray(
            fit + self._grey(guess, share) + self._pits(guess, share) + self._spots(guess, share)
        )

    def _grey(self, guess: Guess, share: Array) -> Array:
        true = 10 * np.maximum(share, 1e-12) ** guess.taste
        scale = 0.3 + 0.7 * np.sqrt(true / 10)
        looks = np.zeros(share.shape[:2])
        low, high = ((bound - true) / scale for bound in self.grey)
        for bias, weight in zip(_BIAS, _BIAS_WEIGHT / _BIAS_WEIGHT.sum(), strict=True):
            shift = bias * guess.look_sd
            chance = ndtr((high - shift) / guess.zone_sd) - ndtr((low - shift) / guess.zone_sd)
            looks += weight * np.exp(np.log(chance + 1e-6).sum(axis=2))
        return np.asarray(np.log(looks + 1e-300).sum(axis=1))

    def _pits(self, guess: Guess, share: Array) -> Array:
        if not self.pits.size:
            return np.zeros(len(share))
        mean = (guess.damage.pits * guess.seen * share)[:, self.pits_at[0], self.pits_at[1]]
        shape = 1 / guess.field_spread[:, :, 0] ** 2
        sigma = np.sqrt(np.log1p(guess.zone_spread[:, :, 0] ** 2))
        limit = min(self.work.person.too_many_from, PITS_COUNTABLE + 1)
        found = np.zeros(mean.shape)
        for node, weight in zip(_CLUSTER, _CLUSTER_WEIGHT / _CLUSTER_WEIGHT.sum(), strict=True):
            zone = mean * np.exp(sigma * node - sigma**2 / 2) + guess.dust[:, :, 0]
            none = shape / (shape + zone)
            logs = np.zeros(mean.shape)
            for fields in self.pits.T:
                count = np.maximum(fields, 0)
                log = gammaln(shape + count) - gammaln(shape) - gammaln(count + 1)
                log = log + shape * np.log(none) + count * np.log1p(-none)
                many = fields < 0
                log[:, many] = np.log(betainc(limit, shape, 1 - none[:, many]) + 1e-300)
                logs += log
            found += weight * np.exp(np.maximum(logs, -600))
        return np.asarray(np.log(found + 1e-280).sum(axis=1))

    def _spots(self, guess: Guess, share: Array) -> Array:
        level = (guess.damage.pits * guess.spot * share)[:, self.spots_at[0], self.spots_at[1]]
        level = np.log(level + 1e-12)
        limits = np.log([1e-300, 0.15, 3.0, 30.0, 1e300])
        chance = ndtr((limits[self.spots + 1] - level) / 0.4) - ndtr((limits[self.spots] - level) / 0.4)
        return np.asarray(np.log(chance + 1e-6).sum(axis=1))


def main() -> None:
    """Both reckoners on the same jobs at three quarters of each."""
    parser = argparse.ArgumentParser(description="the best that could be reckoned, beside the planner")
    parser.add_argument("--jobs", type=int, default=24)
    jobs = parser.parse_args().jobs
    rows = [both(seed) for seed in progress(range(jobs))]
    truth, whole, best, planner = (np.concatenate(column) for column in zip(*rows, strict=True))
    open_ = truth > 0.0
    truth, whole = truth[open_], whole[open_]
    for name, found in (("all that can be known", best[open_]), ("planner", planner[open_])):
        error = abs(found[:, 1] - truth)
        inside = np.mean((found[:, 0] <= truth) & (truth <= found[:, 2]))
        print(
            f"{name}: {open_.sum()} zones, in the range {inside:.1%}, median error "
            f"{np.median(error / whole):.1%} of the job, {np.median(error / truth):.1%} of what is left, "
            f"sum of errors {error.sum() / truth.sum():.1%} of all that is left"
        )


def both(seed: int) -> tuple[Array, Array, Array, Array]:
    """Segments left by zone, the whole job's, and 10, 50, 90 % by the one who knows and by the planner."""
    work = run_out(start(seed))
    finish, history = work.finish()[:ZONES], history_of(work)
    after = round(STAGE * float(finish.max()))
    left = Reckoning(work.job, history.until(after)).segments_left()[:, :ZONES]
    particles.PARTICLES, usual = PARTICLES, particles.PARTICLES
    best = Knowing(work, history, after).left()
    particles.PARTICLES = usual
    planner = np.asarray(np.percentile(left, (10, 50, 90), axis=0).T)
    return finish - after, np.full(ZONES, finish.max()), best, planner


if __name__ == "__main__":
    main()
