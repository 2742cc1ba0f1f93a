#!/usr/bin/python3
"""Reference figures for package plane from engines that share no code with GEOS.

Draws random polygons and states, in millimetres:
- the area of buffer, union, difference and intersection, from rasters of 0.25 mm
  (scikit-image draw.polygon; buffers by scipy's exact Euclidean distance transform);
- the least-area rectangle (OpenCV minAreaRect);
- signed distances of points to the contour (OpenCV pointPolygonTest).
Run: /usr/bin/python3 reference.py > reference.json
"""
import json
import math
import random

import cv2
import numpy as np
import scipy
import skimage
from scipy.ndimage import distance_transform_edt
from skimage.draw import polygon2mask

MM_PER_PX = 0.25
SIZE_MM = 400


def star(rng, cx, cy, lo, hi):
    n = rng.randint(5, 30)
    return [[round(cx + r * math.cos(2 * math.pi * i / n), 3), round(cy + r * math.sin(2 * math.pi * i / n), 3)]
            for i, r in ((i, rng.uniform(lo, hi)) for i in range(n))]


def raster(ring):
    # cell centres lie half a cell in
    p = np.array([[y / MM_PER_PX - 0.5, x / MM_PER_PX - 0.5] for x, y in ring])
    n = int(SIZE_MM / MM_PER_PX)
    return polygon2mask((n, n), p)


def area(mask):
    return float(mask.sum()) * MM_PER_PX**2


def case(seed):
    rng = random.Random(seed)
    a, b = star(rng, 190, 200, 50, 120), star(rng, 220, 190, 40, 120)
    ma, mb = raster(a), raster(b)
    grow, shrink = round(rng.uniform(2, 30), 2), round(rng.uniform(2, 15), 2)
    out = distance_transform_edt(~ma) * MM_PER_PX
    inside = distance_transform_edt(ma) * MM_PER_PX
    ca = np.array(a, dtype=np.float32)
    _, (w, h), _ = cv2.minAreaRect(ca)
    points = [[round(rng.uniform(0, SIZE_MM), 2), round(rng.uniform(0, SIZE_MM), 2)] for _ in range(12)]
    half = MM_PER_PX / 2  # the transform measures between cell centres, the edge is half a cell nearer
    return {
        "a": a, "b": b, "grow_mm": grow, "shrink_mm": shrink,
        "union_mm2": area(ma | mb), "intersection_mm2": area(ma & mb), "difference_mm2": area(ma & ~mb),
        "grown_mm2": area(out - half <= grow), "shrunk_mm2": area(inside - half >= shrink),
        "rectangle_mm": sorted([w, h], reverse=True),
        "points": points, "signed_distance_mm": [cv2.pointPolygonTest(ca, (x, y), True) for x, y in points],
    }


print(json.dumps({
    "made_by": {"script": "reference.py", "skimage": skimage.__version__, "opencv": cv2.__version__,
                "scipy": scipy.__version__, "numpy": np.__version__},
    "mm_per_px": MM_PER_PX, "cases": [case(s) for s in range(8)]}, indent=None))
