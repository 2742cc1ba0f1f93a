#!/usr/bin/python3
"""Charts captures as other cameras would have photographed them, and prints a table of how right the charts are.

    scripts/cameras.py WORK CAPTURE...      e.g. .cache/cameras .cache/faint/half/*/

One row for each of the cameras below, means of the captures, then all rows' candidates by what probability they were told.
Copies and charts are kept in WORK. The program is HIDECHART, else bin/hidechart; needs Debian's python3-opencv (4.6.0) and
python3-numpy. The noise is drawn from one seed, so that the copies are the same each time."""
import json, os, shutil, subprocess, sys
import cv2
import numpy as np

GAMMA = 2.2  # taken for the photographs' tone curve: linear light is the value to this power
QUALITY = 95  # of the JPEG, unless a camera is one of its own


def in_light(change):
    """A change of linear light."""
    return lambda a: 255 * np.clip(change((a / 255) ** GAMMA), 0, 1) ** (1 / GAMMA)


def vignetted(light):
    h, w = light.shape[:2]
    y, x = np.mgrid[0:h, 0:w].astype(np.float32)
    return light * (1 - 0.5 * ((x - w / 2) ** 2 + (y - h / 2) ** 2) / ((w / 2) ** 2 + (h / 2) ** 2))[..., None]


def noisy(deviation):
    draw = np.random.default_rng(3)
    return lambda a: a + draw.normal(0, deviation, a.shape).astype(np.float32)


def smaller(share):
    return lambda a: cv2.resize(a, None, fx=share, fy=share, interpolation=cv2.INTER_AREA)


CAMERAS = {
    "as it is": None,
    "upside down": lambda a: a[::-1, ::-1],
    "0.45 of the light": in_light(lambda v: v * 0.45),
    "a steeper tone curve": lambda a: 255 * (a / 255) ** 1.35,
    "the corners at half the light": in_light(vignetted),
    "a yellow white balance": in_light(lambda v: v * np.array([0.6, 1, 1.1], np.float32)),
    "blue and red exchanged": lambda a: a[..., ::-1],
    "without colour": lambda a: np.repeat(a @ np.array([[0.114], [0.587], [0.299]], np.float32), 3, axis=2),
    "0.7 of the width": smaller(0.7),
    "half the width": smaller(0.5),
    "out of focus by 1.2 px": lambda a: cv2.GaussianBlur(a, (0, 0), 1.2),
    "noise of 2 levels": noisy(2),
    "noise of 4 levels": noisy(4),
    "JPEG of quality 85": lambda a: a,
    "JPEG of quality 60": lambda a: a,
}


def copied(src, dst, camera):
    os.makedirs(dst, exist_ok=True)
    quality = int(camera.split()[-1]) if camera.startswith("JPEG") else QUALITY
    for name in sorted(os.listdir(src)):
        path, to = os.path.join(src, name), os.path.join(dst, name)
        if not name.endswith(".jpg") or CAMERAS[camera] is None:
            shutil.copyfile(path, to)
            continue
        image = CAMERAS[camera](cv2.imread(path, cv2.IMREAD_COLOR | cv2.IMREAD_IGNORE_ORIENTATION).astype(np.float32))
        cv2.imwrite(to, np.clip(image, 0, 255).astype(np.uint8), [cv2.IMWRITE_JPEG_QUALITY, quality])


def scored(capture, charts):
    program = os.environ.get("HIDECHART", "bin/hidechart")
    subprocess.run([program, "chart", capture, "--out", charts], check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    chart = os.path.join(charts, os.path.basename(capture), "chart.json")
    return json.loads(subprocess.run([program, "score", chart, capture, "--json"], check=True, capture_output=True).stdout)


def table(work, captures, what, copies):
    """Prints a row for each of the copies, which are functions of two folders by name; then all rows' candidates."""
    print("| %s | recall | kind right | false per m² | false area %% |\n| --- | --- | --- | --- | --- |" % what)
    found = []
    for k, name in enumerate(copies):
        results = []
        for src in captures:
            capture = os.path.join(work, "%02d" % k, os.path.basename(src.rstrip("/")))
            copies[name](src, capture)
            results.append(scored(capture, os.path.join(work, "charts", "%02d" % k)))
        mean = {m: np.mean([r[m] for r in results]) for m in ("recall", "kind_accuracy", "false_per_m2", "false_area_share")}
        print("| %s | %.2f | %.2f | %.1f | %.2f |" % (name, *list(mean.values())[:3], 100 * mean["false_area_share"]), flush=True)
        found += [c for r in results for c in r["candidates"] if c["kind"] != "hole"]
    bins = [[c for c in found if min(int(c["probability"] * 10), 9) == k] for k in range(10)]
    error = sum(abs(sum(c["probability"] - c["real"] for c in b)) for b in bins) / len(found)
    print("\nCalibration error of all %d candidates: %.3f. Told 0.8 and more, and real, by kind:" % (len(found), error))
    for kind in sorted({c["kind"] for c in found}):
        sure = [c for c in found if c["kind"] == kind and c["probability"] >= 0.8]
        if sure:
            print("%s %d, %.2f" % (kind, len(sure), np.mean([c["real"] for c in sure])))


if __name__ == "__main__":
    table(sys.argv[1], sys.argv[2:], "camera", {c: (lambda s, d, c=c: copied(s, d, c)) for c in CAMERAS})
