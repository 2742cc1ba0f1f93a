#!/usr/bin/env python3
"""Reference results for package score, by scipy and numpy.

Writes maps/*.score.png, masks/*.png and reference.json beside itself:
    /usr/bin/python3 score/testdata/reference.py
Needs Debian's python3-scipy, python3-numpy and python3-opencv; their versions
are kept in reference.json. Independent of our code: AUROC by Mann-Whitney's U
(scipy.stats.mannwhitneyu), regions by scipy.ndimage.label, AUPRO by its definition
threshold by threshold, Wilson intervals by scipy.stats.binomtest.
"""
import json
import pathlib

import cv2
import numpy as np
import scipy
from scipy import ndimage, stats

here = pathlib.Path(__file__).parent
rng = np.random.default_rng(20260101)
maps = []
for name, shift in (("clear", 9000), ("faint", 2500), ("clean", 0)):
    mask = np.zeros((48, 64), np.uint8)
    if shift:
        mask[5:15, 6:26] = 255
        mask[20:23, 30:60] = 255
        mask[23, 60] = 255  # touches by a corner only: eight neighbours
        mask[40:44, 3:6] = 255
    score = rng.normal(20000, 3000, mask.shape) + shift * (mask > 0) * rng.uniform(0, 1.5, mask.shape)
    score = (np.clip(score, 0, 65535) // 64 * 64).astype(np.uint16)  # many ties
    cv2.imwrite(str(here / "maps" / f"{name}.score.png"), score)
    cv2.imwrite(str(here / "masks" / f"{name}.png"), mask)
    maps.append((name, score, mask > 0))


def auroc(pairs):
    bad = np.concatenate([s[m] for _, s, m in pairs])
    good = np.concatenate([s[~m] for _, s, m in pairs])
    if not len(bad):
        return None
    return stats.mannwhitneyu(bad, good).statistic / (len(bad) * len(good))


good = np.concatenate([s[~m] for _, s, m in maps])
regions = []
for _, s, m in maps:
    labels, n = ndimage.label(m, structure=np.ones((3, 3)))
    regions += [s[labels == i + 1] for i in range(n)]
xs, ys = [0.0], [0.0]
for t in np.unique(np.concatenate([s.ravel() for _, s, _ in maps]))[::-1]:
    xs.append((good >= t).mean())
    ys.append(np.mean([(r >= t).mean() for r in regions]))
limit = 0.3
keep = [i for i, x in enumerate(xs) if x <= limit]
x, y = [xs[i] for i in keep] + [limit], [ys[i] for i in keep] + [np.interp(limit, xs, ys)]
recalls = []
for share in (0.001, 0.005, 0.01):
    levels = np.unique(np.concatenate([s.ravel() for _, s, _ in maps]))
    t = min([v for v in levels if (good >= v).mean() <= share], default=65536)
    recalls.append({
        "false_area_share": share,
        "pixel_recall": float((np.concatenate(regions) >= t).mean()),
        "region_recall": float(np.mean([(r >= t).mean() >= 0.3 for r in regions])),
    })
result = {
    "versions": {"scipy": scipy.__version__, "numpy": np.__version__, "opencv": cv2.__version__},
    "auroc_pooled": auroc(maps),
    "auroc": {p[0]: auroc([p]) for p in maps},
    "aupro": float(np.trapz(y, x) / limit),
    "regions": len(regions),
    "recall_at": recalls,
    "wilson": [[h, n, *stats.binomtest(h, n).proportion_ci(0.95, method="wilson")]
               for h, n in ((0, 5), (3, 5), (5, 5), (47, 53), (900, 1000))],
}
(here / "reference.json").write_text(json.dumps(result, indent=1) + "\n")
