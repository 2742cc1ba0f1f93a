#!/usr/bin/python3
"""Writes picture.png and reference.json.gz beside it: what scikit-image, scipy
and scikit-learn make of the same picture and samples. The picture is noise of
two scales with a bright and a dark line and a spot, all from a fixed seed.
Run: /usr/bin/python3 reference.py (Debian 12: skimage 0.19.3, scipy 1.10.1,
sklearn 1.2.1, numpy 1.24.2)."""
import gzip
import json
import os

import numpy as np
import scipy
import skimage
import sklearn
from scipy import ndimage as ndi
from skimage import feature, filters, io
from sklearn.covariance import MinCovDet

HERE = os.path.dirname(os.path.abspath(__file__))
N = 96


def picture():
    rng = np.random.RandomState(7)
    im = 120 + 25 * ndi.gaussian_filter(rng.randn(N, N), 3) / 0.09 * 0.3 + 6 * rng.randn(N, N)
    y, x = np.mgrid[0:N, 0:N]
    im += 40 * np.exp(-((x - 0.6 * y - 20) ** 2) / (2 * 2.5**2))
    im -= 45 * np.exp(-((y - 70) ** 2) / (2 * 2.0**2))
    im += 60 * np.exp(-((x - 75) ** 2 + (y - 25) ** 2) / (2 * 3.0**2))
    return np.clip(np.round(im), 0, 255).astype(np.uint8)


def directions(f):
    """Shares of six directions of the gradient in 8 x 8 cells, 12 px in from each of these corners."""
    out = []
    for y, x in [(0, 0), (5, 40), (30, 20), (50, 60), (60, 3)]:
        cells = feature.hog(f[y + 4:y + 28, x + 4:x + 28], orientations=6, pixels_per_cell=(8, 8), cells_per_block=(1, 1), block_norm="L1", feature_vector=False)
        out.append(cells[1, 1, 0, 0])
    return np.array(out)


def main():
    im = picture()
    io.imsave(os.path.join(HERE, "picture.png"), im, check_contrast=False)
    f = im.astype(float)
    soft = dict(sigma=2.5, mode="mirror", truncate=4.0)
    rr, rc, cc = feature.structure_tensor(f, sigma=2.5, mode="mirror", order="rc")
    laplace = -ndi.convolve(f, np.array([[0, -1, 0], [-1, 4, -1], [0, -1, 0]], float), mode="mirror")
    assert np.allclose(laplace[1:-1, 1:-1], -filters.laplace(f)[1:-1, 1:-1])  # its own border repeats the edge
    rough = (f - ndi.gaussian_filter(f, 1.5, mode="mirror")) ** 2
    out = {
        "engine": f"scikit-image {skimage.__version__}, scipy {scipy.__version__}, scikit-learn {sklearn.__version__}",
        "yy": rr, "xy": rc, "xx": cc,
        "laplacian": laplace,
        "laplacian_energy": ndi.gaussian_filter(laplace**2, **soft),
        "roughness": ndi.gaussian_filter(rough, **soft),
        # scale-normalised ridge strength of bright and dark lines (Sato et al. 1998, in 2-D the larger eigenvalue)
        "ridge_bright": filters.sato(f, sigmas=[3], black_ridges=False, mode="mirror"),
        "ridge_dark": filters.sato(f, sigmas=[3], black_ridges=True, mode="mirror"),
        # scale-normalised Laplacian of a Gaussian
        "log": 9 * ndi.gaussian_laplace(f, 3, mode="mirror"),
        "directions": 100 * directions(ndi.gaussian_filter(f, 1, mode="mirror")),
    }
    out = {k: v if isinstance(v, str) else np.round(np.asarray(v, float).ravel(), 2).tolist() for k, v in out.items()}
    rng = np.random.RandomState(3)
    a = rng.randn(3, 3)
    x = rng.randn(600, 3) @ a.T + [5, -2, 1]
    x[:60] += [9, 9, -9]
    fit = MinCovDet(support_fraction=0.75, random_state=0, assume_centered=False).fit(x)
    raw = x - fit.raw_location_
    d = np.sqrt(np.einsum("ij,jk,ik->i", raw, np.linalg.inv(fit.raw_covariance_), raw))
    out["samples"] = np.round(x, 6).ravel().tolist()
    out["centre"] = fit.raw_location_.tolist()
    out["distance"] = (d / np.median(d)).tolist()
    with gzip.GzipFile(os.path.join(HERE, "reference.json.gz"), "wb", mtime=0) as z:
        z.write(json.dumps(out).encode())


main()
