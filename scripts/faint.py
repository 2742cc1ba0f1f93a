#!/usr/bin/python3
"""Copies captures with every flaw but holes at a share of its contrast.

    scripts/faint.py OUT SHARE CAPTURE...      e.g. out/half 0.5 ../shared/captures/*/

What a flaw adds to the leather round it is scaled: the photograph smoothed at 0.5 mm, less the mean of
leather outside the marks (the finest of 2.5 to 100 mm that finds enough of it). The truth stays. For captures
whose camera.json is in the frame of y down; needs Debian's python3-opencv (4.6.0) and python3-numpy."""
import json, os, shutil, sys
import cv2
import numpy as np

GRID = 8  # the camera's rays are followed every so many pixels


def table_of(cam, mm):
    """Maps camera pixels to pixels of the truth's raster; also millimetres per camera pixel."""
    K, D, R, t = (np.array(cam[k]) for k in ("K", "D", "R", "t"))
    w, h = cam["size"]
    u, v = np.meshgrid(np.arange(w, dtype=np.float32), np.arange(h, dtype=np.float32))
    us, vs = u[::GRID, ::GRID], v[::GRID, ::GRID]
    p = cv2.undistortPoints(np.stack([us.ravel(), vs.ravel()], 1).reshape(-1, 1, 2).astype(np.float64), K, D).reshape(-1, 2)
    ray, centre = np.concatenate([p, np.ones((len(p), 1))], 1) @ R, -R.T @ t
    s = -centre[2] / ray[:, 2]
    xy = [((centre[k] + s * ray[:, k]).reshape(us.shape) / mm).astype(np.float32) for k in (0, 1)]
    x, y = (cv2.remap(a, u / GRID, v / GRID, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE) for a in xy)
    return x, y, float(np.median(np.abs(np.diff(x[h // 2])))) * mm


def grown(mask, px):
    return cv2.dilate(mask.astype(np.uint8), np.ones((2 * px + 1, 2 * px + 1))) > 0


def marks(label, kinds, px_mm):
    """What is scaled (soft) and the clean leather that it is held against."""
    number = {k: i + 1 for i, k in enumerate(kinds)}
    px = max(1, round(3 / px_mm))
    hide, hole = label != 255, label == number["hole"]
    area = np.isin(label, [number[k] for k in ("loose", "stain") if k in number])
    mark = grown((label > 0) & hide & ~hole & ~area, px) | grown(area, 2 * px)
    hole = grown(hole, 2 * px)
    mark &= hide & ~hole
    return cv2.GaussianBlur(mark.astype(np.float32), (0, 0), 0.7 / px_mm) * mark, (hide & ~mark & ~hole).astype(np.float32)


def leather_round(image, clean, px_mm):
    h, w = clean.shape
    base, have = image.copy(), np.zeros(clean.shape, bool)
    for sigma in (2.5, 6, 15, 40, 100):
        q = max(1, int(sigma / px_mm / 3))
        parts = [cv2.resize(a, (w // q, h // q), interpolation=cv2.INTER_AREA) for a in (image * clean[..., None], clean)]
        a, b = (cv2.resize(cv2.GaussianBlur(p, (0, 0), sigma / px_mm / q), (w, h)) for p in parts)
        new = (b > 0.15) & ~have
        base[new] = a[new] / b[new][:, None]
        have |= new
    return base


def main(out, share, captures):
    for src in captures:
        dst = os.path.join(out, os.path.basename(src.rstrip("/")))
        os.makedirs(dst, exist_ok=True)
        truth, cam = (json.load(open(os.path.join(src, n))) for n in ("truth.json", "camera.json"))
        x, y, px_mm = table_of(cam, truth["mm_per_px"])
        label = cv2.remap(cv2.imread(os.path.join(src, "truth_label.png"), 0), x, y, cv2.INTER_NEAREST, borderValue=255)
        soft, clean = marks(label, truth["kinds"], px_mm)
        for name in os.listdir(src):
            path = os.path.join(src, name)
            if not name.endswith(".jpg") or name == "empty.jpg":
                shutil.copyfile(path, os.path.join(dst, name))
                continue
            image = cv2.imread(path, cv2.IMREAD_COLOR | cv2.IMREAD_IGNORE_ORIENTATION).astype(np.float32)
            added = (cv2.GaussianBlur(image, (0, 0), 0.5 / px_mm) - leather_round(image, clean, px_mm)) * soft[..., None]
            cv2.imwrite(os.path.join(dst, name), np.clip(image - (1 - share) * added, 0, 255), [cv2.IMWRITE_JPEG_QUALITY, 95])


if __name__ == "__main__":
    main(sys.argv[1], float(sys.argv[2]), sys.argv[3:])
