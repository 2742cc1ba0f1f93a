#!/usr/bin/python3
"""Fits a camera to the corners in corners.json with OpenCV's calibrateCamera.

Debian 12: python3-opencv 4.6.0, python3-numpy. Run here:
    /usr/bin/python3 opencv_reference.py > opencv_reference.json
Each entry of corners.json has the picture's size, places on the table (mm, y up)
and the corners found for them (px, pixel centres at integers). One view of a
plane; k3 held at 0 as in ours; the answer is each camera's matrix, lens terms
and pose, and the root mean square reprojection error as OpenCV gives it (per
point, both axes together).
"""
import json

import cv2
import numpy as np

out = {"opencv": cv2.__version__, "numpy": np.__version__, "views": {}}
with open("corners.json", encoding="utf-8") as f:
    views = json.load(f)
for name, v in sorted(views.items()):
    table = np.array(v["table_mm"], np.float32)
    table = np.column_stack([table, np.zeros(len(table), np.float32)])
    corners = np.array(v["corners_px"], np.float32).reshape(-1, 1, 2)
    w, h = v["size_px"]
    k = np.array([[0.85 * w, 0, (w - 1) / 2], [0, 0.85 * w, (h - 1) / 2], [0, 0, 1.0]])
    criteria = (cv2.TERM_CRITERIA_COUNT + cv2.TERM_CRITERIA_EPS, 2000, 1e-14)
    rms, k, d, r, t = cv2.calibrateCamera(
        [table], [corners], (w, h), k, None, flags=cv2.CALIB_USE_INTRINSIC_GUESS | cv2.CALIB_FIX_K3, criteria=criteria)
    rotation, _ = cv2.Rodrigues(r[0])
    pose = cv2.solvePnP(table, corners, k, d)
    projected, _ = cv2.projectPoints(table, pose[1], pose[2], k, d)
    pnp = float(np.sqrt(np.mean(np.sum((projected - corners) ** 2, axis=2))))
    out["views"][name] = {"rms_px": rms, "solve_pnp_rms_px": pnp, "K": k.tolist(), "D": d.ravel().tolist(),
                          "R": rotation.ravel().tolist(), "t": t[0].ravel().tolist()}
print(json.dumps(out, indent=1))
