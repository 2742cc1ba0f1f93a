#!/usr/bin/python3
"""How many flaws are found of those that stand out in the photographs.

    scripts/standout.py CHARTS CAPTURE...      e.g. .cache/accuracy/charts .cache/accuracy/captures/*/

A flaw stands out by as many standard deviations as its own shape, laid on PLACES places of sound leather
near by, says of sound leather: the largest over the lights' pictures beside the chart and over mean tone, mean
colour (red less blue) and the strength of detail of 1 to 2 mm and of 2.5 to 5 mm, each less that of the leather 3 to 8 mm
off the shape. Twenty such measures reach 2.5 by chance; 5 is what a person needs to be sure of a patch in noise (Rose
1948, "The sensitivity performance of the human eye on an absolute scale", J. Opt. Soc. Am. 38, from memory).
Found is as `hidechart score` has it; holes are left out. Prints how many stand out by how much, and found;
then the missed that stand out by 10 or more. Needs Debian's python3-opencv and python3-numpy."""
import collections, json, os, subprocess, sys
import cv2
import numpy as np

PROGRAM = os.environ.get("HIDECHART", "bin/hidechart")
PLACES, LEAST = 60, 25  # tried; needed
RING = (3, 8)           # mm off the shape
LIGHTS = ("top", "back", "rake-n", "rake-e", "rake-s", "rake-w")
BANDS = (0, 3, 5, 7, 10, 20, np.inf)


def dilated(mask, mm):
    return cv2.dilate(mask.astype(np.uint8), np.ones((2 * mm + 1, 2 * mm + 1))) > 0


class Capture:
    """Pictures and truth of a capture on a raster of 1 mm."""

    def __init__(self, chart, capture):
        lights = json.load(open(os.path.join(chart, "lights.json")))
        self.truth = json.load(open(os.path.join(capture, "truth.json")))
        label, mm = cv2.imread(os.path.join(capture, "truth_label.png"), 0), self.truth["mm_per_px"]
        self.left, self.top = lights["left_mm"], lights["top_mm"]
        self.w, self.h = (int(lights[k] * lights["mm_per_px"]) for k in ("width_px", "height_px"))
        x = ((self.left + np.arange(self.w) + 0.5) / mm).astype(int).clip(0, label.shape[1] - 1)
        y = ((self.truth["table_mm"][1] - self.top + np.arange(self.h) + 0.5) / mm).astype(int).clip(0, label.shape[0] - 1)
        self.label = label[np.ix_(y, x)]
        hide = self.label != 255
        self.sound = ~dilated(~hide, 6) & ~dilated((self.label > 0) & hide, 3)
        self.measures = []  # raster, whether its ratio counts and not its difference
        for light in LIGHTS:
            picture = os.path.join(chart, f"light-{light}.jpg")
            image = cv2.imread(picture) if os.path.exists(picture) else None
            if image is not None:
                self.add(np.log(cv2.resize(image, (self.w, self.h), interpolation=cv2.INTER_AREA).astype(np.float32) + 2), hide.astype(np.float32))

    def add(self, log, hide):
        tone = log.mean(2)
        wide = np.maximum(cv2.GaussianBlur(hide, (0, 0), 12), 1e-3)
        for v in (tone, log[..., 2] - log[..., 0]):
            self.measures.append(((v - cv2.GaussianBlur(v * hide, (0, 0), 12) / wide) * hide, False))
        for fine in (1, 2.5):
            detail = (cv2.GaussianBlur(tone, (0, 0), fine) - cv2.GaussianBlur(tone, (0, 0), 2 * fine)) * hide
            self.measures.append((detail * detail, True))

    def shape(self, flaw):
        """The flaw's pixels, RING round them, and where the upper left one of them lies."""
        x0, y0, x1, y1 = flaw["bbox_mm"]
        x0, x1 = int(x0 - self.left) - 1, int(x1 - self.left) + 2
        y0, y1 = int(self.top - y1) - 1, int(self.top - y0) + 2
        if min(x0, y0) < RING[1] or x1 > self.w - RING[1] or y1 > self.h - RING[1]:
            return None
        on = np.pad(self.label[y0:y1, x0:x1] == self.truth["kinds"].index(flaw["kind"]) + 1, RING[1])
        return on, dilated(on, RING[1]) & ~dilated(on, RING[0]), y0 - RING[1], x0 - RING[1]

    def stands(self, on, ring, y, x):
        """Each measure of the shape at a place; None if too little round it is sound leather."""
        part = np.s_[y:y + on.shape[0], x:x + on.shape[1]]
        ring = ring & self.sound[part]
        if ring.sum() < 20 or not on.any():
            return None
        pairs = [(v[part][on].mean(), v[part][ring].mean(), ratio) for v, ratio in self.measures]
        return np.array([np.log((a + 1e-9) / (b + 1e-9)) if ratio else a - b for a, b, ratio in pairs])

    def deviations(self, flaw, draw):
        shape = self.shape(flaw)
        here = shape and self.stands(*shape)
        if here is None:
            return None
        on, ring, y, x = shape
        there = []
        for reach in (150, 400, 900):  # mm, the nearest first
            for _ in range(8 * PLACES):
                v, u = y + int(draw.integers(-reach, reach + 1)), x + int(draw.integers(-reach, reach + 1))
                if len(there) == PLACES or min(v, u) < 0 or v + on.shape[0] > self.h or u + on.shape[1] > self.w:
                    continue
                if self.sound[v:v + on.shape[0], u:u + on.shape[1]][on].mean() > 0.97 and (m := self.stands(on, ring, v, u)) is not None:
                    there.append(m)
        if len(there) < LEAST:
            return None
        return float((np.abs(here - np.mean(there, 0)) / (np.std(there, 0) + 1e-9)).max())


def main(charts, captures):
    draw, found, missed, beside = np.random.default_rng(1), collections.defaultdict(list), [], 0
    for path in captures:
        name = os.path.basename(path.rstrip("/"))
        chart = os.path.join(charts, name)
        if not os.path.exists(os.path.join(chart, "chart.json")):
            print(f"{name}: no chart")
            continue
        score = json.loads(subprocess.run([PROGRAM, "score", os.path.join(chart, "chart.json"), path, "--json"], check=True, capture_output=True).stdout)
        told, capture = {t["id"]: t["found"] for t in score["truths"]}, Capture(chart, path)
        for flaw in capture.truth["defects"]:
            by = capture.deviations(flaw, draw) if flaw["kind"] != "hole" and flaw["id"] in told else None
            if by is None:
                beside += flaw["kind"] != "hole"
                continue
            found[next(k for k in range(len(BANDS)) if by < BANDS[k + 1])].append(told[flaw["id"]])
            if by >= 10 and not told[flaw["id"]]:
                missed.append((by, name, capture.truth["article"], flaw["kind"]))
    for k, told in sorted(found.items()):
        print(f"{BANDS[k]:g} to {BANDS[k + 1]:g}: {len(told)} flaws, found {np.mean(told):.2f}")
    print(f"not told, for want of sound leather near by: {beside}")
    for m in sorted(missed, reverse=True):
        print("missed: by %.0f, %s, %s, %s" % m)


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2:])
