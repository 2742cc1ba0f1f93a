#!/usr/bin/python3
"""Charts captures dressed in other leathers, and prints a table of how right the charts are.

    scripts/leathers.py WORK CAPTURE...      e.g. .cache/leathers .cache/faint/whole/*/

One row for each of the leathers below, means of the captures. The hide of a photograph gets another colour, clouds or relief, in
linear light and within its true outline; flaws and table stay as they are, and so does the back light. Relief is shaded by its slope
towards a raking lamp. It is drawn by this script alone, so that it is no leather that `scene` can draw.
Copies and charts are kept in WORK; seeds are fixed. For captures whose camera.json is in the frame of y down. The program
is HIDECHART, else bin/hidechart; needs Debian's python3-opencv (4.6.0) and python3-numpy."""
import json, os, shutil, sys
import cv2
import numpy as np
import cameras, faint

RAKED, BY_TOP = 1.2, 0.15  # how much light a slope of 1 gains towards a raking lamp; and loses under top light


class Canvas:
    """The truth's raster: shape in pixels and mm a pixel."""

    def __init__(self, shape, px):
        self.shape, self.px = shape, px

    def waves(self, mm, seed):
        """Gaussian noise of that width (standard deviation), mean 0 and variance 1."""
        h, w = self.shape
        q = max(1, int(mm / self.px / 2.5))
        a = np.random.default_rng(seed).normal(size=(h // q + 3, w // q + 3)).astype(np.float32)
        a = cv2.GaussianBlur(a, (0, 0), mm / self.px / q)
        a = cv2.resize(a[1:-1, 1:-1], (w, h), interpolation=cv2.INTER_CUBIC)
        return (a - a.mean()) / a.std()

    def places(self, per_m2, seed):
        draw, (h, w) = np.random.default_rng(seed), self.shape
        n = int(h * w * self.px**2 * 1e-6 * per_m2)
        return draw, draw.integers(0, h, n), draw.integers(0, w, n)

    def domes(self, apart, high):
        """Round pebbles that run into one another, height in mm."""
        far = np.ones(self.shape, np.uint8)
        _, y, x = self.places(1e6 / apart**2, 5)
        far[y, x] = 0
        d = cv2.distanceTransform(far, cv2.DIST_L2, 5) * self.px + 0.06 * apart * self.waves(1.5, 6)
        up = np.sqrt(np.maximum(1 - (d / (0.75 * apart)) ** 2, 0)).astype(np.float32)
        return high * cv2.GaussianBlur(up, (0, 0), 0.5 / self.px)

    def pores(self, per_m2):
        """Round pores half a millimetre wide (standard deviation), 0.5 to 1.5 deep."""
        a = np.zeros(self.shape, np.float32)
        draw, y, x = self.places(per_m2, 7)
        np.add.at(a, (y, x), draw.uniform(0.5, 1.5, len(y)).astype(np.float32))
        return cv2.GaussianBlur(a, (0, 0), 0.5 / self.px) * 2 * np.pi * (0.5 / self.px) ** 2

    def creases(self):
        """A net of fine lines, plain in one place and lost in the next, 0 to 1.5."""
        return np.exp(-((self.waves(7, 8) / 0.05) ** 2)) * np.clip(0.5 + self.waves(40, 9), 0, None)


def coloured(*bgr):
    return lambda c: (np.array(bgr, np.float32), None, 0)


def cloudy(c):
    return 1 + 0.09 * c.waves(18, 1) + 0.08 * c.waves(60, 2), None, 0


def clouds_of_colour(c):
    tone, hue = 1 + 0.05 * c.waves(15, 1), 1 + 0.06 * c.waves(25, 3)
    return np.dstack([tone * hue, tone, tone / hue]), None, 0


# Each gives the colour's factor, of the whole or of each pixel, the height in mm or none, and how much light a slope of
# 1 gains towards the right under top light: none with lamps all round, some with one lamp or a window.
LEATHERS = {
    "as it is": None,
    "a quarter of the light": coloured(0.28, 0.28, 0.28),
    "bluer": coloured(1.25, 0.7, 0.45),
    "greener": coloured(0.45, 0.9, 0.5),
    "cloudy": cloudy,
    "clouds of colour": clouds_of_colour,
    "rough": lambda c: (1, 0.1 * c.waves(1.6, 4), 0),
    "pebbles 3 mm apart": lambda c: (1, c.domes(3, 0.3), 0),
    "pebbles 6 mm apart": lambda c: (1, c.domes(6, 0.7), 0),
    "pebbles 6 mm apart, top light from one side": lambda c: (1, c.domes(6, 0.7), 0.15),
    "pores": lambda c: (1 - 0.1 * c.pores(60000), -0.05 * c.pores(60000), 0),
    "creases": lambda c: (1 - 0.05 * c.creases(), None, 0),
}


def shaded(height, px, light, slant):
    """How much light the relief sends to the camera, against flat leather."""
    down, right = np.gradient(height, px)
    lamp = {"rake-n": down, "rake-s": -down, "rake-e": -right, "rake-w": right}.get(light)
    return 1 - BY_TOP * np.hypot(down, right) - slant * right if lamp is None else np.clip(1 + RAKED * lamp, 0.4, 1.8)


def copied(src, dst, leather):
    os.makedirs(dst, exist_ok=True)
    truth, cam = (json.load(open(os.path.join(src, n))) for n in ("truth.json", "camera.json"))
    label = cv2.imread(os.path.join(src, "truth_label.png"), 0)
    x, y, _ = faint.table_of(cam, truth["mm_per_px"])
    there = lambda a: cv2.remap(np.asarray(a, np.float32), x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    hide = there(cv2.GaussianBlur(((label != 255) & (label != truth["kinds"].index("hole") + 1)).astype(np.float32), (0, 0), 0.8))
    colour, height, slant = leather(Canvas(label.shape, truth["mm_per_px"])) if leather else (1, None, 0)
    if np.ndim(colour) > 1:
        colour = there(colour)
    for name in sorted(os.listdir(src)):
        path, to = os.path.join(src, name), os.path.join(dst, name)
        light = name[:-4]
        if leather is None or not name.endswith(".jpg") or light in ("back", "empty"):
            shutil.copyfile(path, to)
            continue
        factor = np.atleast_3d(colour) if np.ndim(colour) != 1 else colour
        if height is not None:
            factor = factor * there(shaded(height, truth["mm_per_px"], light, slant))[..., None]
        change = cameras.in_light(lambda v: v * (1 + (factor - 1) * hide[..., None]))
        image = change(cv2.imread(path, cv2.IMREAD_COLOR | cv2.IMREAD_IGNORE_ORIENTATION).astype(np.float32))
        cv2.imwrite(to, np.clip(image, 0, 255).astype(np.uint8), [cv2.IMWRITE_JPEG_QUALITY, cameras.QUALITY])


if __name__ == "__main__":
    cameras.table(sys.argv[1], sys.argv[2:], "leather", {n: (lambda s, d, l=l: copied(s, d, l)) for n, l in LEATHERS.items()})
