#!/usr/bin/python3
"""Writes the tables of docs/accuracy.md, "Score map": what each part of the
method and each other body of method gives, on halves of data that no constant
was chosen by. Called by scripts/swatches.sh with the data in place."""
import json
import os
import subprocess
import sys
import time

ROOT = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))
PROGRAM = os.environ.get("HIDECHART", os.path.join(ROOT, "bin", "hidechart"))
WORK = os.environ.get("SWATCH_WORK", os.path.join(ROOT, ".cache", "swatches"))
BEGIN, END = "<!-- swatches: begin -->", "<!-- swatches: end -->"

OURS = [
    ("all of it (`hidechart swatch`)", []),
    ("without the finest level", ["finest=512"]),
    ("one level (256 px)", ["coarsest=256", "finest=256", "largest=256"]),
    ("colour only", ["texture=0", "rough=0", "curve=0"]),
    ("grain only", ["colour=0"]),
    ("without roughness", ["rough=0"]),
    ("without curvature", ["curve=0"]),
    ("curvature with weight 1", ["curve=1"]),
    ("without the robust quadratic", ["detrend=false"]),
    ("border left as the filters give it", ["border=0"]),
    ("zones: 3 along the side", ["zones=3"]),
]
OTHERS = [
    ("simple", "one level, one Gaussian of everything: the simple try"),
    ("knn", "nearest patches of the picture itself, 256 and 128 px"),
    ("pca", "principal components of patches, 256 to 64 px"),
    ("histogram", "local histograms of colour and Laplacian, four levels"),
    ("phase", "spectrum whitened (phase only)"),
    ("lbp", "local histograms of binary patterns"),
    ("gabor", "energies of Gabor filters"),
]


def judge(data, more):
    cmd = [PROGRAM, "score", "--swatches", data, "--json", *more]
    return json.loads(subprocess.run(cmd, check=True, capture_output=True).stdout)


def cells(r):
    at = {a["false_area_share"]: a for a in r["recall_at_false_area"]}
    return f'{r["auroc_pooled"]:.4f} | {r["auroc_mean"]:.4f} | {r["aupro_0.3"]:.3f} | {100 * at[0.01]["pixel_recall"]:.0f} %'


def row(name, results):
    print(name, *(cells(r) for r in results), sep="  ", flush=True)
    return f"| {name} | " + " | ".join(cells(r) for r in results) + " |"


def main():
    sets = [("fabric, held-out half", "fabric-held"), ("leather swatches, held out", "leather-held")]
    sets = [(n, os.path.join(WORK, d)) for n, d in sets if os.path.isdir(os.path.join(WORK, d))]
    lines = [BEGIN, "", "| | " + " | ".join(f"{n}: pooled | mean | AUPRO | recall at 1 %" for n, _ in sets) + " |", "| --- |" + " --- |" * 4 * len(sets)]
    start = time.time()
    for name, flags in OURS:
        lines.append(row(name, [judge(d, [f"--swatch-{f}" for f in flags]) for _, d in sets]))
    for method, name in OTHERS:
        results = []
        for _, d in sets:
            out = os.path.join(d, "maps-" + method)
            if not os.path.isdir(out):  # kept from a run that was broken off
                body = os.path.join(ROOT, "scripts", "swatch_bodies.py")
                subprocess.run([sys.executable, body, method, os.path.join(d, "images"), out], check=True)
            results.append(judge(d, ["--maps", out]))
        lines.append(row(name, results))
    lines.append("")
    whole = os.path.join(WORK, "fabric-all")
    if os.path.isdir(whole):
        r = judge(whole, [])
        lines.append(f'All 26 fabric photographs, the tuning half too: pooled {r["auroc_pooled"]:.4f}, mean {r["auroc_mean"]:.4f}, '
                     f'AUPRO {r["aupro_0.3"]:.3f} over {r["regions"]} regions.')
    lines += ["", END]
    doc = os.path.join(ROOT, "docs", "accuracy.md")
    text = open(doc, encoding="utf-8").read()
    a, b = text.index(BEGIN), text.index(END) + len(END)
    with open(doc, "w", encoding="utf-8") as f:
        f.write(text[:a] + "\n".join(lines) + text[b:])
    print(f"docs/accuracy.md written, {time.time() - start:.0f} s")


main()
