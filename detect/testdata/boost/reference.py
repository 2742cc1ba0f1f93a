#!/usr/bin/python3
"""Reference values for the boosted trees of package detect.

Engine: scikit-learn (Debian python3-sklearn 1.2.1+dfsg-1; the version that ran
is written into the output), HistGradientBoostingClassifier, IsotonicRegression
and log_loss. Run in this folder: /usr/bin/python3 reference.py
It writes reference.json.gz; the Go test reads only that file.
"""
import gzip
import json

import numpy as np
import sklearn
from sklearn.ensemble import HistGradientBoostingClassifier
from sklearn.isotonic import IsotonicRegression
from sklearn.metrics import log_loss

rng = np.random.default_rng(20010529)


def table(n, steps, missing):
    """Four classes; steps > 0 puts the features on that many values."""
    x = rng.normal(size=(n, 5))
    z = np.stack([x[:, 0] * x[:, 1], np.sin(2 * x[:, 2]), x[:, 0] - x[:, 3] ** 2 / 2,
                  0.5 * x[:, 1] + x[:, 3]], 1)
    p = np.exp(2 * z)
    p /= p.sum(1, keepdims=True)
    y = np.array([rng.choice(4, p=q) for q in p])
    if steps:
        x = np.clip(np.round(x * steps / 8), -steps // 2, steps // 2) * 8 / steps
    if missing:  # more often missing in class 0, so that missing itself tells
        x[rng.random((n, 5)) < missing * (1 + 2 * (y == 0))[:, None]] = np.nan
    return x.astype(np.float32).astype(float), y


def case(name, n, steps, missing, weighted, bins, rounds, depth, l2):
    x, y = table(2 * n, steps, missing)
    w = rng.integers(1, 4, size=n).astype(float) if weighted else np.ones(n)
    m = HistGradientBoostingClassifier(
        loss="log_loss", learning_rate=0.1, max_iter=rounds, max_leaf_nodes=None, max_depth=depth,
        min_samples_leaf=1, l2_regularization=l2, max_bins=bins, early_stopping=False, random_state=0)
    m.fit(x[:n], y[:n], sample_weight=w if weighted else None)
    p = m.predict_proba(x)
    return {
        "name": name, "train": n, "bins": bins, "rounds": rounds, "depth": depth, "l2": l2,
        "x": [[None if np.isnan(v) else round(v, 7) for v in r] for r in x.tolist()],
        "y": y.tolist(), "weight": w.tolist(),
        "probabilities": np.round(p, 6).tolist(),
        "train_loss": log_loss(y[:n], p[:n], sample_weight=w), "test_loss": log_loss(y[n:], p[n:]),
        "test_accuracy": float((p[n:].argmax(1) == y[n:]).mean()),
    }


s = np.round(rng.random(400), 2)  # ties on purpose
hit = rng.random(400) < s ** 2
at = np.linspace(-0.1, 1.1, 121)
iso = IsotonicRegression(out_of_bounds="clip").fit(s, hit)
out = {
    "engine": "scikit-learn " + sklearn.__version__,
    "cases": [
        case("steps", 800, 60, 0, False, 255, 40, 3, 1.0),
        case("steps, weights", 800, 60, 0, True, 255, 40, 4, 0.5),
        case("steps, missing", 800, 60, 0.1, False, 255, 40, 3, 1.0),
        case("continuous", 2000, 0, 0, False, 64, 60, 4, 1.0),
    ],
    "isotonic": {"score": s.tolist(), "hit": hit.tolist(), "at": at.tolist(), "value": iso.predict(at).tolist()},
}
with gzip.GzipFile("reference.json.gz", "wb", mtime=0) as f:
    f.write(json.dumps(out).encode())
for c in out["cases"]:
    print(c["name"], c["train_loss"], c["test_loss"], c["test_accuracy"])
