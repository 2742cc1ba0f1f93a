"""Plays the reviewer of charts of invented hides: confirms each candidate that
lies on a flaw of the truth, rejects the others, has `hidechart learn` fit a profile
to some of the hides and tells how the others are sorted by it.

  scripts/learn.py PROGRAM CHARTS CAPTURES REVIEWED

CHARTS and CAPTURES hold a folder of the same name for each hide, of one article.
The reviewed ones are REVIEWED in a row in order of name, eight times, each time
starting an eighth of the way further on: which hides happen to be reviewed
moves the figures more than the profile does."""
import json
import math
import pathlib
import subprocess
import sys
import tempfile

program, charts, captures, reviewed = sys.argv[1], pathlib.Path(sys.argv[2]), pathlib.Path(sys.argv[3]), int(sys.argv[4])
names = sorted(p.name for p in charts.iterdir() if (p / "chart.json").exists())
TURNS = 8


def judged(name):
    """The chart with its candidates decided by the truth."""
    chart = json.loads((charts / name / "chart.json").read_text())
    out = subprocess.run([program, "score", charts / name / "chart.json", captures / name, "--json"], check=True, capture_output=True)
    real = {c["id"]: c["real"] for c in json.loads(out.stdout)["candidates"]}
    for d in chart["defects"]:
        d["status"] = "confirmed" if real[d["id"]] else "rejected"
    return chart


def learned(decided):
    """The profile of the decided charts."""
    with tempfile.TemporaryDirectory() as folder:
        paths = []
        for c in decided:
            path = pathlib.Path(folder) / "charts" / c["capture"]["id"]
            path.mkdir(parents=True)
            (path / "chart.json").write_text(json.dumps(c))
            paths.append(path)
        subprocess.run([program, "learn", *paths, "--out", pathlib.Path(folder) / "profiles"], check=True)
        return json.loads(next((pathlib.Path(folder) / "profiles").iterdir()).read_text())


def sorted_by(profile, d):
    """As docs/files.md says."""
    if not profile["active"]:
        return d["probability"]
    p = min(max(d["probability"], 0.0005), 0.9995)
    z = math.log(p / (1 - p))
    s = z + profile["bias"] + profile["slope"] * z
    for t in profile["terms"]:
        if t["feature"] in d["evidence"]:
            s += t["weight"] * min(max((math.asinh(d["evidence"][t["feature"]]) - t["mean"]) / t["sd"], -3), 3)
    return 1 / (1 + math.exp(-s))


def kept(pairs, at):
    """Real and false candidates told with at least that probability."""
    return sum(r for p, r in pairs if p >= at), sum(not r for p, r in pairs if p >= at)


def turn(decided, others):
    """Real and false ones of the others at 0.5 without and with the profile, and
    with it where as many real ones are kept."""
    profile = learned(decided)
    found = [d for c in others for d in c["defects"] if d.get("evidence")]
    real = [d["status"] == "confirmed" for d in found]
    before = list(zip((d["probability"] for d in found), real))
    after = list(zip((sorted_by(profile, d) for d in found), real))
    n = kept(before, 0.5)[0]
    at = sorted((p for p, r in after if r), reverse=True)[n - 1]
    return (*kept(before, 0.5), *kept(after, 0.5), *kept(after, at))


all_charts = [judged(n) for n in names]
turns = []
for k in range(TURNS):
    start = k * len(all_charts) // TURNS
    around = all_charts[start:] + all_charts[:start]
    turns.append(turn(around[:reviewed], around[reviewed:]))
    print("from %s: real and false at 0.5 %d and %d; with the profile %d and %d; with it at equal recall %d and %d" % (names[start], *turns[-1]))
mean = [sum(t[i] for t in turns) / TURNS for i in range(6)]
print(f"mean of {TURNS} times {len(all_charts) - reviewed} other hides:")
print("without the profile, at 0.5: %.1f real, %.1f false" % (mean[0], mean[1]))
print("with it, at 0.5: %.1f real, %.1f false" % (mean[2], mean[3]))
print("with it, at equal recall: %.1f real, %.1f false" % (mean[4], mean[5]))
print("fewer false ones at equal recall in %d of %d" % (sum(t[5] < t[1] for t in turns), TURNS))
