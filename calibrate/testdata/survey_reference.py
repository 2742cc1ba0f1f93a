#!/usr/bin/env python3
"""Reference for the survey of tags: corners projected by OpenCV (cv2.projectPoints) and places fitted by SciPy
(scipy.optimize.least_squares), both Debian's. Writes calibrate/testdata/survey_reference.json.

    /usr/bin/python3 calibrate/testdata/survey_reference.py > calibrate/testdata/survey_reference.json
"""
import json
import cv2
import numpy as np
import scipy
from scipy.optimize import least_squares

rnd = np.random.default_rng(20)
W, H, EDGE, NOISE = 3000, 2000, 100.0, 0.05
tags = {i: (x, y, t) for i, (x, y, t) in enumerate(zip(
    [120, 1100, 2050, 2900, 2880, 1950, 1000, 140], [110, 90, 130, 100, 2050, 2100, 2070, 2110],
    np.deg2rad([0, 10, -35, 80, 170, -120, 95, 5])))}
camera = np.array([2150.0, 2153.0, 1512.0, 985.0, -0.08, 0.02, 2e-4, -1e-4])
square = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * EDGE / 2


def corners(x, y, t):
    c, s = np.cos(t), np.sin(t)
    return square @ np.array([[c, s], [-s, c]]) + [x, y]


def project(cam, pose, flat):
    k = np.array([[cam[0], 0, cam[2]], [0, cam[1], cam[3]], [0, 0, 1]])
    p = np.column_stack([flat, np.zeros(len(flat))])
    return cv2.projectPoints(p, pose[:3], pose[3:], k, cam[4:8])[0].reshape(-1, 2)


poses = []
for tilt, turn, roll in [(0, 0, 0), (0.4, 0.5, 0.1), (0.45, 2.2, -0.2), (0.4, 4.0, 1.5), (0.5, 5.3, 0.2)]:
    down = np.diag([1.0, -1, -1])
    lean = cv2.Rodrigues(np.array([tilt * np.cos(turn), tilt * np.sin(turn), 0.0]))[0]
    r = cv2.Rodrigues(np.array([0.0, 0, roll]))[0] @ lean @ down
    t = -r @ np.array([1500, 1100, 0]) + [0, 0, 3100]
    poses.append(np.concatenate([cv2.Rodrigues(r)[0].ravel(), t]))

seen = []
for p, pose in enumerate(poses):
    for i, tag in tags.items():
        c = project(camera, pose, corners(*tag)) + 0
        if (c > 10).all() and (c < [W - 10, H - 10]).all():
            seen.append((p, i, c + rnd.normal(0, NOISE, c.shape)))

# the priors of calibrate.DefaultParams, and its weight of a corner
mean = np.array([np.log(0.85 * W), 0, (W - 1) / 2, (H - 1) / 2, 0, 0, 0, 0])
sd = np.array([0.5, 0.003, 0.03 * W, 0.03 * W, 0.3, 0.3, 5e-4, 5e-4])
stretch_sd = 0.002
ids = sorted({i for _, i, _ in seen})


def unpack(v):
    f = np.exp(v[0])
    cam = np.array([f, f * np.exp(v[1]), *v[2:8]])
    at = 9 + 6 * len(poses)
    return cam, v[8], v[9:at].reshape(-1, 6), dict(zip(ids, v[at:].reshape(-1, 3)))


def residuals(v):
    cam, stretch, ps, ts = unpack(v)
    out = [(v[:8] - mean) / sd, [stretch / stretch_sd]]
    for p, i, c in seen:
        x, y, t = ts[i]
        co, s = np.cos(t), np.sin(t)
        q = square * [np.exp(stretch / 2), np.exp(-stretch / 2)] @ np.array([[co, s], [-s, co]]) + [x, y]
        out.append(((project(cam, ps[p], q) - c) / NOISE).ravel())
    centres = np.array([ts[i][:2] for i in ids])
    true = np.array([tags[i][:2] for i in ids])
    off, arm = centres - true, true - true.mean(0)
    # the gauge: mean place and turn of all tags, held to a micrometre
    out.append(np.array([off[:, 0].sum(), off[:, 1].sum(), (arm[:, 0] * off[:, 1] - arm[:, 1] * off[:, 0]).sum() / np.linalg.norm(arm)]) / 1e-3)
    return np.concatenate(out)


start = np.concatenate([[np.log(camera[0]), np.log(camera[1] / camera[0])], camera[2:], [0], np.concatenate(poses), np.concatenate([tags[i] for i in ids])])
fit = least_squares(residuals, start, method="trf", x_scale="jac", xtol=1e-14, ftol=1e-14, gtol=1e-14)
cov = np.linalg.inv(fit.jac.T @ fit.jac)
at = 9 + 6 * len(poses)
print(json.dumps({
    "made_by": f"calibrate/testdata/survey_reference.py, OpenCV {cv2.__version__}, SciPy {scipy.__version__}, NumPy {np.__version__}",
    "size_px": [W, H], "edge_mm": EDGE, "noise_px": NOISE,
    "seen": [{"photo": p, "tag": i, "corners": c.round(6).tolist()} for p, i, c in seen],
    "true_mm": {i: [float(tags[i][0]), float(tags[i][1])] for i in ids},
    "fitted_mm": {i: fit.x[at + 3 * k:at + 3 * k + 2].round(6).tolist() for k, i in enumerate(ids)},
    "u_mm": {i: np.sqrt(np.diag(cov)[at + 3 * k:at + 3 * k + 2]).round(6).tolist() for k, i in enumerate(ids)},
}))
