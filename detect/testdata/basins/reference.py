"""Catchment basins of a smooth random surface by scikit-image, for basins_test.go.

Run beside this file with Debian 12's python3-skimage 0.19.3 (watershed: flooding from every local
minimum, four neighbours). Writes reference.json.gz: the surface and each pixel's basin.
"""
import gzip
import json
import pathlib

import numpy
import scipy
import skimage
from scipy.ndimage import gaussian_filter
from skimage.segmentation import watershed

SIDE = 96
surface = gaussian_filter(numpy.random.default_rng(7).standard_normal((SIDE, SIDE)), 1.5).astype(numpy.float32)
basins = watershed(surface, connectivity=1)
out = {
    "engine": f"scikit-image {skimage.__version__}, scipy {scipy.__version__}",
    "side": SIDE,
    "surface": [float(v) for v in surface.ravel()],
    "basins": [int(v) for v in basins.ravel()],
}
path = pathlib.Path(__file__).with_name("reference.json.gz")
path.write_bytes(gzip.compress(json.dumps(out).encode(), mtime=0))
