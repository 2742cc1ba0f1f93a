"""Audits DXF files with ezdxf and lists what they hold, as JSON.

Made for: Debian 12 python3-ezdxf 0.18.1. Run by dxf_test.go with /usr/bin/python3.
"""
import json
import sys

import ezdxf
from ezdxf import recover
from ezdxf.lldxf.encoding import decode_dxf_unicode

out = []
for path in sys.argv[1:]:
    doc = ezdxf.readfile(path)
    audit = doc.audit()
    strict = {"errors": [str(e.message) for e in audit.errors], "fixes": [str(e.message) for e in audit.fixes]}
    _, lax = recover.readfile(path)
    rings, texts, lines = [], [], []
    for e in doc.modelspace():
        layer = e.dxf.layer
        if e.dxftype() == "LWPOLYLINE":
            points = [tuple(p) for p in e.get_points("xy")]
            rings.append({"layer": layer, "closed": bool(e.closed), "points": points})
        elif e.dxftype() == "TEXT":
            texts.append({"layer": layer, "text": decode_dxf_unicode(e.plain_text()), "height": e.dxf.height})
        elif e.dxftype() == "LINE":
            lines.append({"layer": layer, "length": e.dxf.start.distance(e.dxf.end)})
    out.append({"version": ezdxf.__version__, "form": doc.dxfversion, "units": doc.units, "strict": strict,
                "recover": [str(e.message) for e in lax.errors] + [str(e.message) for e in lax.fixes],
                "layers": sorted(l.dxf.name for l in doc.layers), "rings": rings, "texts": texts, "lines": lines})
json.dump(out, sys.stdout)
