"""Fits the lens with OpenCV's calibrateCameraExtended (python3-opencv 4.6.0).

Usage: board_reference.py lens_corners.json > board_reference.json
lens_corners.json: the inner corners (9 x 6, squares 25 mm, row by row, pixel
centres at integers) that FindBoard finds in lens/left*.jpg; written by
`HIDECHART_WRITE_CORNERS=1 go test ./calibrate -run TestPublishedLens`.

OpenCV 4.6 divides the squared residuals by points - parameters for its standard
deviations, not by 2 * points - parameters as least squares asks (two residuals a
point); sd below is corrected for that, sd_as_printed is not.
"""
import json
import sys

import cv2
import numpy as np

views = json.load(open(sys.argv[1]))
board = np.zeros((54, 3), np.float32)
board[:, :2] = 25 * np.mgrid[0:9, 0:6].T.reshape(-1, 2)
seen = [np.array(v["corners"], np.float32).reshape(-1, 1, 2) for v in views]
out = {"opencv": cv2.__version__}
for name, flags in (("without_k3", cv2.CALIB_FIX_K3), ("with_k3", 0)):
    rms, k, d, r, t, sd, _, per_view = cv2.calibrateCameraExtended([board] * len(seen), seen, (640, 480), None, None, flags=flags)
    mean = []
    for rv, tv, c in zip(r, t, seen):
        p, _ = cv2.projectPoints(board, rv, tv, k, d)
        mean.append(float(np.linalg.norm((p - c).reshape(-1, 2), axis=1).mean()))
    points, parameters = 54 * len(seen), 8 + (flags == 0) + 6 * len(seen)
    fix = np.sqrt((points - parameters) / (2 * points - parameters))
    sd = sd.ravel()[:9]
    out[name] = {
        "terms": [k[0, 0], k[1, 1], k[0, 2], k[1, 2]] + d.ravel()[:5].tolist(),
        "sd": (sd * fix).tolist(),
        "sd_as_printed": sd.tolist(),
        "rms": rms,
        "mean": float(np.mean(mean)),
        "view_rms": per_view.ravel().tolist(),
    }
print(json.dumps(out, indent=1))
