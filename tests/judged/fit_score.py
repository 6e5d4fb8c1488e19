"""Fit the score's weights to verdicts: few numbers, none below 0, the worst term's own share.

Run as ``python -m tests.judged.fit_score``. The half of the sets that it fits, and the half that
it is tried on, are drawn by lot once and for all.
"""

import sys

import numpy as np
from scipy.optimize import minimize
from sklearn.metrics import roc_auc_score

from tests.judged.verdicts import load, terms_of, verdict
from visualiser.arrangement.scoring import DECISIVE, WEIGHTS

RIDGE = 0.02
LEAST = {
    "even gaps": 0.10, "compact outline": 0.05, "balance": 0.04, "proportion": 0.05,
    "height": 0.05, "centred": 0.05, "colour spread": 0.05, "ledge or rail": 0.08,
    "weight below": 0.03, "like sizes": 0.03, "shared lines": 0.02, "outline shape": 0.02,
    "symmetry": 0.05, "focal piece": 0.04, "no holes": 0.05, "small ones held": 0.05,
    "straight sides": 0.04, "room about it": 0.03,
}  # fmt: skip
"""Least weights of what the drawings kept alike, so that verdicts say nothing of its worth, and of
what a reader of later drawings named most: small frames adrift, edges that miss by little, frames
close under the ceiling."""
WORST = (0.25, 0.6)
"""Bounds of the share of the worst decisive term."""


def halves(names, seed=0):
    """Give the set names of the half to fit."""
    rng = np.random.default_rng(seed)
    names = sorted(set(names))
    return set(rng.permutation(names)[: len(names) // 2].tolist())


def table(rows):
    names = list(WEIGHTS)
    values = np.full((len(rows), len(names)), np.nan)
    for k, (item, made, _) in enumerate(rows):
        for name, value in terms_of(item, made).items():
            if name in names:
                values[k, names.index(name)] = value
    return names, values


def scores(weights, share, names, values):
    """The score as the program works it out, 0 to 1."""
    there = ~np.isnan(values)
    mean = np.nansum(values * weights, axis=1) / np.maximum((there * weights).sum(axis=1), 1e-9)
    decisive = [names.index(name) for name in DECISIVE]
    worst = np.nanmin(np.where(np.isnan(values[:, decisive]), np.inf, values[:, decisive]), axis=1)
    total = np.where(np.isinf(worst), mean, (1 - share) * mean + share * np.minimum(worst, 1))
    return np.where(values[:, names.index("usual way")] == 0, (1 - share) * total, total)


def fit(names, values, marks):
    """Weights (sum 1) and the worst term's share that tell signed from nudged from rejected."""
    start = np.array([WEIGHTS[name] for name in names])
    start = start / start.sum()
    signed = np.array([np.mean([m == 2 for m in ms]) for ms in marks])
    kept = np.array([np.mean([m >= 1 for m in ms]) for ms in marks])

    least = np.array([LEAST.get(name, 0.0) for name in names])

    def unpack(p):
        weights = np.exp(p[: len(names)])
        weights = least + (1 - least.sum()) * weights / weights.sum()
        low, high = WORST
        share = low + (high - low) / (1 + np.exp(-p[len(names)]))
        return weights, share, p[len(names) + 1 :]

    def loss(p):
        weights, share, (slope, high, low) = unpack(p)
        s = scores(weights, share, names, values)
        steep = np.exp(slope)
        total = 0.0
        for target, at in ((signed, high), (kept, low)):
            z = steep * (s - at)
            total += np.mean(np.logaddexp(0, z) - target * z)
        return total + RIDGE * np.sum((weights - 1 / len(names)) ** 2) * len(names)

    p0 = np.concatenate([np.log(start + 1e-3), [0.0, 2.5, 0.85, 0.6]])
    found = minimize(loss, p0, method="L-BFGS-B", bounds=[(-9, 3)] * len(names) + [(-6, 4)] * 4,
                     options={"maxiter": 400})  # fmt: skip
    weights, share, _ = unpack(found.x)
    return weights, share


def report(title, rows, s):
    """Figures on some of the proposals."""
    said = np.array([verdict(marks) for _, _, marks in rows])
    sets = np.array([item.name for item, _, _ in rows])
    firsts = [max(np.flatnonzero(sets == name), key=lambda k: s[k]) for name in sorted(set(sets))]
    first = said[firsts]
    signed = said == "signed"
    some = [any(signed[sets == name]) for name in set(sets)]
    lines = [
        f"{title}: {len(rows)} proposals of {len(firsts)} sets",
        f"  AUC signed against the rest {roc_auc_score(signed, s):.3f}, "
        f"rejected against the rest {roc_auc_score(said != 'rejected', s):.3f}",
        f"  first: signed {np.mean(first == 'signed'):.2f}, "
        f"rejected {np.mean(first == 'rejected'):.3f}",
        f"  sets with one that is signed {np.mean(some):.2f}",
    ]
    for floor in (0.6, 0.65, 0.7, 0.75, 0.8):
        shown = (s >= floor) | np.isin(np.arange(len(s)), firsts)
        lines.append(
            f"  floor {floor}: {shown.sum()} shown, signed {np.mean(signed[shown]):.2f}, "
            f"rejected {np.mean(said[shown] == 'rejected'):.3f}"
        )
    return "\n".join(lines)


def main():
    rows = [row for row in load() if row[2]]
    names, values = table(rows)
    train = halves([item.name for item, _, _ in rows])
    own = np.array([item.name in train for item, _, _ in rows])
    marks = [m for _, _, m in rows]
    before = scores(np.array([WEIGHTS[n] for n in names]), 0.45, names, values)
    weights, share = fit(names, values[own], [m for m, k in zip(marks, own, strict=True) if k])
    after = scores(weights, share, names, values)
    out = [f"{name:18} {w:.3f}" for name, w in zip(names, weights, strict=True)]
    out.append(f"{'worst share':18} {share:.3f}")
    half = [row for row, k in zip(rows, own, strict=True) if k]
    rest = [row for row, k in zip(rows, own, strict=True) if not k]
    out += [report("before, held out", rest, before[~own]), report("fitted half", half, after[own]),
            report("held out", rest, after[~own])]  # fmt: skip
    sys.stdout.write("\n".join(out) + "\n")
    return rows, names, values, own, weights, share


if __name__ == "__main__":
    main()
