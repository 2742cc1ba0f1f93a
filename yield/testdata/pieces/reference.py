#!/usr/bin/python3
"""Reference areas of the pieces and the DXF files. Tools: rsvg-convert 2.54.7
(librsvg) for SVG, by the coverage of pixels; ezdxf 0.18.1 for DXF, which also
writes and audits the files. Debian 12. Run in this folder; prints JSON."""
import json, math, subprocess, sys, tempfile
import xml.etree.ElementTree as ET
import ezdxf
from ezdxf import path as epath
from ezdxf.math import area
import cv2

out = {}
PX_PER_MM = 20
W, H = round(304.8 * PX_PER_MM), round(203.2 * PX_PER_MM)  # the drawing is 12 in wide
NAMES = ["lines", "cubic", "quadratic", "arcs", "ring", "rounded", "oval", "polygon", "nearly", "disc"]
with tempfile.TemporaryDirectory() as tmp:
    for name in NAMES:
        tree = ET.parse("shapes.svg")
        for parent in list(tree.iter()):
            for child in list(parent):
                if not child.tag.endswith("}g") and child.get("id") != name:
                    parent.remove(child)
        tree.write(tmp + "/one.svg")
        subprocess.run(["rsvg-convert", "-w", str(W), "-h", str(H), "-o", tmp + "/one.png", tmp + "/one.svg"], check=True)
        im = cv2.imread(tmp + "/one.png", cv2.IMREAD_UNCHANGED)
        assert im.shape == (H, W, 4), im.shape
        out["svg " + name] = round(float(im[:, :, 3].sum(dtype=float)) / 255 / PX_PER_MM**2, 3)


def flat_area(e):
    return abs(area(list(epath.make_path(e).flattening(0.001))))


def save(doc, name):
    assert not doc.audit().has_errors
    doc.saveas(name)


# plain, in inches: polylines with arcs, chained lines and arcs, a cut-out
doc = ezdxf.new("R2000"); doc.units = 1
m = doc.modelspace()
a = m.add_lwpolyline([(0, 0, 0.5), (4, 0, 0), (4, 3, -0.3), (0, 3, 0)], format="xyb", close=True)
out["plain slot"] = (flat_area(a) - math.pi * 0.5**2) * 25.4**2
m.add_circle((2, 1.5), 0.5)
m.add_text("slot", height=0.2).set_placement((1, 0.5))
# a D of two lines and an arc, drawn in any order, with a gap of 0.3 mm at one corner
m.add_line((10, 0), (12, 0)); m.add_arc((12, 2), 2, -90, 90); m.add_line((10, 4), (10, 0.3 / 25.4)); m.add_line((12, 4), (10, 4))
out["plain D"] = (2 * 4 + math.pi * 2**2 / 2) * 25.4**2
m.add_text("D", height=0.2).set_placement((11, 2))
p = m.add_polyline2d([(20, 0), (24, 1), (23, 5), (19, 4)], close=True)
out["plain kite"] = flat_area(p) * 25.4**2
m.add_text("kite", height=0.2).set_placement((21, 2))
m.add_line((21, 1), (22, 4), dxfattribs={"layer": "grain"})
save(doc, "plain.dxf")

# the layers of ASTM D6673: a block a piece, metric
doc = ezdxf.new("R2000"); doc.header["$MEASUREMENT"] = 1; doc.units = 0
m = doc.modelspace()
for i, (name, w, h) in enumerate([("FRONT", 300, 200), ("BACK", 250, 150)]):
    b = doc.blocks.new(name)
    b.add_polyline2d([(0, 0), (w, 0), (w, h), (0, h)], close=True, dxfattribs={"layer": "1"})
    b.add_polyline2d([(10, 10), (w - 10, 10), (w - 10, h - 10), (10, h - 10)], close=True, dxfattribs={"layer": "14"})  # sew line
    b.add_line((20, 20), (w - 20, 30), dxfattribs={"layer": "8"})
    b.add_line((20, h / 2), (20, h / 2 + 100), dxfattribs={"layer": "7"})
    b.add_point((w / 2, 0), dxfattribs={"layer": "4"})
    for text in ["Piece Name: " + name.lower() + " panel", "Quantity: %d" % (i + 1), "Units: METRIC"]:
        b.add_text(text, height=5, dxfattribs={"layer": "1"}).set_placement((30, 30))
    m.add_blockref(name, (0, 0), dxfattribs={"layer": "1"})
doc.blocks.get("FRONT").add_circle((150, 100), 30, dxfattribs={"layer": "11"})
out["astm front panel"] = 300 * 200 - math.pi * 30**2
out["astm back panel"] = 250 * 150
save(doc, "astm.dxf")
print(json.dumps(out, indent=1), file=open("reference.json", "w"))
print("ezdxf", ezdxf.__version__, subprocess.run(["rsvg-convert", "--version"], capture_output=True, text=True).stdout.strip(), file=sys.stderr)
