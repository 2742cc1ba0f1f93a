"""Plays the reviewer of charts of invented hides: confirms each candidate that
lies on a flaw of the truth, rejects the others, has `hidechart learn` fit a profile
to some of the hides and tells how the others are sorted by it.

  scripts/learn.py PROGRAM CHARTS CAPTURES REVIEWED

CHARTS and CAPTURES hold a folder of the same name for each hide, of one article;
the first REVIEWED in order of name are reviewed."""
import json
import math
import pathlib
import subprocess
import sys
import tempfile

program, charts, captures, reviewed = sys.argv[1], pathlib.Path(sys.argv[2]), pathlib.Path(sys.argv[3]), int(sys.argv[4])
names = sorted(p.name for p in charts.iterdir() if (p / "chart.json").exists())


def judged(name):
    """The chart with its candidates decided by the truth."""
    chart = json.loads((charts / name / "chart.json").read_text())
    out = subprocess.run([program, "score", charts / name / "chart.json", captures / name, "--json"], check=True, capture_output=True)
    real = {c["id"]: c["real"] for c in json.loads(out.stdout)["candidates"]}
    for d in chart["defects"]:
        d["status"] = "confirmed" if real[d["id"]] else "rejected"
    return chart


def sorted_by(profile, d):
    """As docs/files.md says."""
    p = min(max(d["probability"], 0.0005), 0.9995)
    z = math.log(p / (1 - p))
    s = z + profile["bias"] + profile["slope"] * z
    for t in profile["terms"]:
        if t["feature"] in d["evidence"]:
            s += t["weight"] * min(max((math.asinh(d["evidence"][t["feature"]]) - t["mean"]) / t["sd"], -3), 3)
    return 1 / (1 + math.exp(-s))


all_charts = [judged(n) for n in names]
with tempfile.TemporaryDirectory() as folder:
    paths = []
    for c in all_charts[:reviewed]:
        path = pathlib.Path(folder) / "charts" / c["capture"]["id"]
        path.mkdir(parents=True)
        (path / "chart.json").write_text(json.dumps(c))
        paths.append(path)
    subprocess.run([program, "learn", *paths, "--out", pathlib.Path(folder) / "profiles"], check=True)
    profile = json.loads(next((pathlib.Path(folder) / "profiles").iterdir()).read_text())
before, after = [], []
for c in all_charts[reviewed:]:
    for d in c["defects"]:
        if d.get("evidence"):
            before.append((d["probability"], d["status"] == "confirmed"))
            after.append((sorted_by(profile, d), d["status"] == "confirmed"))


def kept(pairs, at):
    return sum(r for p, r in pairs if p >= at), sum(not r for p, r in pairs if p >= at)


real, false = kept(before, 0.5)
print(f"{len(all_charts) - reviewed} other hides, without the profile, at 0.5: {real} real, {false} false")
print("with it, at 0.5: %d real, %d false" % kept(after, 0.5))
at = sorted((p for p, r in after if r), reverse=True)[real - 1]
print("with it, at equal recall (%.2f): %d real, %d false" % (at, *kept(after, at)))
