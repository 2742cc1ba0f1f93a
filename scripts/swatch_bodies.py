#!/usr/bin/python3
"""Other bodies of method for the score map of a close-up, to compare with.

swatch_bodies.py METHOD IMAGES OUT writes OUT/<name>.score.png for each image of
the folder IMAGES. All work on the same log-opponent colours, detrended, at 256
(some also 128) pixels on the long side, and all are told in the same unit, so
that only the method differs. Needs Debian's python3-opencv, python3-scipy and
python3-skimage (OpenCV 4.6, scipy 1.10, skimage 0.19).
"""
import os
import sys

import cv2
import numpy as np

rng = np.random.RandomState(0)


def blur(x, s):
    return cv2.GaussianBlur(x, (0, 0), s, borderType=cv2.BORDER_REFLECT_101)


def wide(x, s):
    f = max(1, int(s // 3))
    h, w = x.shape[:2]
    small = cv2.resize(x, (max(w // f, 4), max(h // f, 4)), interpolation=cv2.INTER_AREA)
    return cv2.resize(blur(small, s / f), (w, h), interpolation=cv2.INTER_LINEAR)


def planes(im, side, flat=True):
    k = side / max(im.shape[:2])
    im = cv2.resize(im, None, fx=k, fy=k, interpolation=cv2.INTER_AREA)
    b, g, r = (np.log(im[..., i] + 8) for i in range(3))
    c = np.dstack([(r + g + b) / 3, r - g, b - (r + g) / 2])
    if not flat:
        return c
    h, w = c.shape[:2]
    y, x = np.mgrid[0:h, 0:w]
    x, y = 2 * x / w - 1, 2 * y / h - 1
    a = np.dstack([np.ones_like(x), x, y, x * x, x * y, y * y]).reshape(-1, 6)
    for i in range(3):
        v = c[..., i].ravel()
        keep = np.ones(len(v), bool)
        for _ in range(5):
            q = np.linalg.lstsq(a[keep][::4], v[keep][::4], rcond=None)[0]
            off = np.abs(v - a @ q)
            keep = off <= np.quantile(off, 0.8)
        c[..., i] = (v - a @ q).reshape(h, w)
    return c.astype(np.float32)


def gaussian(f, trim=0.9):
    """Distance to a trimmed, re-fitted Gaussian."""
    h, w, d = f.shape
    x = f.reshape(-1, d)
    mid = np.median(x, 0)
    x = (x - mid) / (np.median(np.abs(x - mid), 0) * 1.4826 + 1e-6)
    far = (np.clip(x, -8, 8) ** 2).mean(1)
    for _ in range(4):
        k = x[far <= np.quantile(far, trim)]
        mu = k.mean(0)
        inv = np.linalg.inv(np.cov(k.T) + 1e-3 * np.eye(d))
        far = np.einsum("ij,jk,ik->i", x - mu, inv, x - mu)
    return np.sqrt(np.maximum(far, 0)).reshape(h, w).astype(np.float32)


def energies(c, pool=2.5):
    gx, gy = cv2.Sobel(c, cv2.CV_32F, 1, 0), cv2.Sobel(c, cv2.CV_32F, 0, 1)
    out = [np.log(blur((gx * np.cos(t) + gy * np.sin(t)) ** 2, pool) + 1e-7) for t in np.arange(4) * np.pi / 4]
    lap = cv2.Laplacian(c, cv2.CV_32F)
    return out + [np.log(blur(lap * lap, pool) + 1e-8), blur(lap, pool / 2)]


def simple(im):
    """One level, one Gaussian of colour residuals, gradient energies at three scales, Laplacian signed and squared."""
    c = planes(im, 256, flat=False).astype(np.float32)
    f = [blur(c, 1.5) - wide(c, 40)]
    for s in (1, 2, 4):
        f += [e[..., None] for e in energies(blur(c[..., 0], s), max(4, 1.5 * s))]
    return [gaussian(np.dstack(f))]


def phase(im):
    """Phase only: whiten the whole spectrum (Aiger & Talbot 2010)."""
    out = []
    for side in (256, 128):
        c = planes(im, side)
        v = 0
        for i in range(3):
            s = np.fft.fft2(c[..., i])
            v = v + np.real(np.fft.ifft2(s / (np.abs(s) + 1e-6))) ** 2
        out.append(np.sqrt(blur(v.astype(np.float32), 1.5)) + 1e-9)
    return out


def patch_rows(c, k):
    r = k // 2
    p = cv2.copyMakeBorder(c, r, r, r, r, cv2.BORDER_REFLECT_101)
    return np.lib.stride_tricks.sliding_window_view(p, (k, k), axis=(0, 1)).reshape(c.shape[0] * c.shape[1], -1)


def pca(im):
    """Whitened principal components of 7 x 7 colour patches."""
    out = []
    for side in (256, 128, 64):
        c = planes(im, side)
        x = patch_rows(c, 7)
        s = x[rng.permutation(len(x))[:6000]]
        mu = np.median(s, 0)
        s = s - mu
        n = np.linalg.norm(s, axis=1)
        s = s[n <= np.quantile(n, 0.9)]
        _, sv, vt = np.linalg.svd(s, full_matrices=False)
        var = sv**2 / len(s)
        out.append(np.sqrt((((x - mu) @ vt.T) ** 2 / (var + 1e-3 * var[0])).sum(1)).reshape(c.shape[:2]))
    return out


def knn(im):
    """Nearest patches of the picture itself: 1,500 of them less the oddest tenth, 16 components."""
    from scipy.spatial import cKDTree

    out = []
    for side in (256, 128):
        c = planes(im, side)
        x = patch_rows(c, 9)
        s = x[rng.permutation(len(x))[:6000]]
        mu = s.mean(0)
        vt = np.linalg.svd(s - mu, full_matrices=False)[2]
        z = (x - mu) @ vt[:16].T
        core = z[rng.permutation(len(z))[:1500]]
        d = cKDTree(core).query(core, k=6)[0][:, 1:].mean(1)
        tree = cKDTree(core[d <= np.quantile(d, 0.9)])
        out.append(tree.query(z, k=3, eps=0.3)[0].mean(1).reshape(c.shape[:2]))
    return out


def lbp(im):
    """Local histograms of uniform binary patterns (Ojala et al. 2002)."""
    from skimage.feature import local_binary_pattern

    out = []
    for side in (256, 512):
        code = local_binary_pattern(planes(im, side)[..., 0], 8, 1.5, "uniform").astype(int)
        out.append(gaussian(np.dstack([np.sqrt(blur((code == v).astype(np.float32), 5) + 1e-4) for v in range(9)])))
    return out


def gabor(im):
    """Pooled energies of twelve Gabor filters."""
    out = []
    for side in (256, 128):
        c = planes(im, side)[..., 0]
        f = []
        for lam in (4, 8):
            for t in np.arange(6) * np.pi / 6:
                k = cv2.getGaborKernel((int(lam * 3) | 1,) * 2, lam * 0.5, t, lam, 0.6, 0).astype(np.float32)
                r = cv2.filter2D(c, -1, k - k.mean())
                f.append(np.log(blur(r * r, 2.5) + 1e-9))
        out.append(gaussian(np.dstack(f)))
    return out


def histogram(im):
    """Local histograms of colour residuals and the Laplacian, six soft bins each."""
    out = []
    for side in (512, 256, 128, 64):
        c = planes(im, side)
        f = []
        for x in [(blur(c, 1) - blur(c, 10))[..., i] for i in range(3)] + [cv2.Laplacian(c[..., 0].copy(), cv2.CV_32F)]:
            edges = np.quantile(x, np.linspace(0, 1, 7)[1:-1])
            soft = (edges[-1] - edges[0]) / 12 + 1e-6
            f += [blur(1 / (1 + np.exp(-np.clip((x - e) / soft, -40, 40))), 3) for e in edges]
        out.append(gaussian(np.dstack(f).astype(np.float32)))
    return out


def score(maps, shape):
    side = max(maps[0].shape) if len(maps) == 1 else 256
    k = side / max(shape)
    size = (max(1, round(shape[1] * k)), max(1, round(shape[0] * k)))
    s = 0
    for m in maps:
        m = cv2.resize(m.astype(np.float32), size, interpolation=cv2.INTER_AREA if m.shape[1] > size[0] else cv2.INTER_LINEAR)
        m = blur(m, 2)
        s = s + np.log(np.maximum(m / np.median(m), 0.01))
    q = np.quantile(s, [0.25, 0.5])
    s = (s - q[1]) / max(q[1] - q[0], 1e-6)
    s = cv2.resize(s, (shape[1], shape[0]), interpolation=cv2.INTER_LINEAR)
    return np.clip(np.round(s * 500 + 4000), 0, 65535).astype(np.uint16)


def main():
    method, images, out = sys.argv[1:]
    os.makedirs(out, exist_ok=True)
    for name in sorted(os.listdir(images)):
        im = cv2.imread(os.path.join(images, name)).astype(np.float32)
        cv2.imwrite(os.path.join(out, os.path.splitext(name)[0] + ".score.png"), score(globals()[method](im), im.shape[:2]))


main()
