#!/usr/bin/python3
"""What ISO 19005-3 asks of a PDF/A-3b, as far as it can be checked with pikepdf
(Debian 12: 6.0.0) and fontTools (4.38.0). Not a full validator: colour in content streams and
the CMap's fine print are not looked at."""
import sys, hashlib, re, io
import pikepdf
from fontTools.ttLib import TTFont


def widths(cid):
    """W and DW of a CIDFont, by CID (ISO 32000-1, 9.7.4.3)."""
    out, a, i = {}, list(cid.W), 0
    while i < len(a):
        if isinstance(a[i + 1], pikepdf.Array):
            out.update({int(a[i]) + k: float(w) for k, w in enumerate(a[i + 1])})
            i += 2
        else:
            out.update({k: float(a[i + 2]) for k in range(int(a[i]), int(a[i + 1]) + 1)})
            i += 3
    return out


path = sys.argv[1]
raw = open(path, "rb").read()
assert raw[:7] == b"%PDF-1." and raw[9:10] == b"%" and sum(b > 127 for b in raw[10:16]) >= 4, "6.1.2 header"
pdf = pikepdf.open(path)
t = pdf.trailer
assert "/ID" in t and len(t.ID) == 2 and "/Encrypt" not in t, "6.1.3 trailer"
assert raw.rstrip().endswith(b"%%EOF")
root = pdf.Root
m = bytes(root.Metadata.read_bytes()).decode()
assert "/Filter" not in root.Metadata, "6.6.2.1"
assert re.search(r"<pdfaid:part>3<", m) and re.search(r"<pdfaid:conformance>B<", m), "6.6.4"
with pdf.open_metadata() as meta:
    title = str(pdf.docinfo["/Title"])
    assert meta["dc:title"] == title, (meta["dc:title"], title)
    assert meta["pdf:Producer"] == str(pdf.docinfo["/Producer"]) and meta["xmp:CreatorTool"] == str(pdf.docinfo["/Creator"])
    d = str(pdf.docinfo["/CreationDate"])
    assert meta["xmp:CreateDate"].replace("-", "").replace(":", "").replace("T", "")[:14] == d[2:16], "6.6.3"
intent = root.OutputIntents[0]
assert intent.S == "/GTS_PDFA1" and intent.DestOutputProfile.N == 3, "6.2.3"
assert bytes(intent.DestOutputProfile.read_bytes())[36:40] == b"acsp"
for bad in ("/AA", "/OCProperties", "/AcroForm", "/OpenAction"):
    assert bad not in root, bad
fonts = 0
for o in pdf.objects:
    if isinstance(o, pikepdf.Stream):
        assert "/F" not in o and "/FFilter" not in o, "6.1.7.1 external streams"
        f = o.get("/Filter")
        assert f is None or "LZW" not in str(f), "6.1.7.2"
    if not isinstance(o, (pikepdf.Dictionary, pikepdf.Stream)):
        continue
    assert o.get("/S") not in ("/JavaScript", "/Launch", "/Movie", "/Sound", "/ImportData"), "6.5.1"
    if o.get("/Type") == "/Font":
        fonts += 1
        assert o.Subtype == "/Type0" and o.Encoding == "/Identity-H" and "/ToUnicode" in o, "6.2.11"
        cid = o.DescendantFonts[0]
        fd = cid.FontDescriptor
        assert "/FontFile2" in fd or "/FontFile3" in fd, "6.2.11.4 embedded"
        assert cid.Subtype != "/CIDFontType2" or "/CIDToGIDMap" in cid, "6.2.11.3.2"
    if o.get("/Type") == "/ExtGState":
        assert o.get("/BM") in (None, "/Normal", "/Compatible") and "/TR" not in o
    if o.get("/Subtype") == "/Image":
        assert not o.get("/Interpolate", False), "6.2.8"
assert fonts > 0
listed = root.Names.EmbeddedFiles.Names
specs = [listed[i] for i in range(1, len(listed), 2)]
names = [str(listed[i]) for i in range(0, len(listed), 2)]
assert names == sorted(names), "name tree is in order"
assert len(root.AF) == len(specs) > 1, "6.8"
for s in specs:
    assert "/F" in s and "/UF" in s and s.AFRelationship in ("/Source", "/Data", "/Alternative", "/Supplement", "/Unspecified")
    e = s.EF.F
    assert e.Subtype in ("/application/json", "/application/jsonl") and "/ModDate" in e.Params
    data = bytes(e.read_bytes())
    assert len(data) == e.Params.Size and hashlib.md5(data).digest() == bytes(e.Params.CheckSum)
# every glyph shown has a shape (6.2.11.8: no .notdef; CID 0 is .notdef) and the width
# that its font gives it (6.2.11.5)
used = {}
for page in pdf.pages:
    font = None
    for operands, op in pikepdf.parse_content_stream(page):
        if str(op) == "Tf":
            font = page.Resources.Font[str(operands[0])]
        if str(op) in ("Tj", "TJ"):
            for part in (operands[0] if str(op) == "TJ" else operands):
                if isinstance(part, pikepdf.String):
                    b = bytes(part)
                    cids = {b[i] << 8 | b[i + 1] for i in range(0, len(b), 2)}
                    assert 0 not in cids, ("6.2.11.8 .notdef", b)
                    used.setdefault(font.objgen, (font, set()))[1].update(cids)
assert used
for font, cids in used.values():
    cid = font.DescendantFonts[0]
    program = TTFont(io.BytesIO(bytes(cid.FontDescriptor.FontFile2.read_bytes())))
    w, em, order = widths(cid), program["head"].unitsPerEm, program.getGlyphOrder()
    for g in cids:
        assert abs(w.get(g, float(cid.get("/DW", 1000))) - program["hmtx"][order[g]][0] * 1000 / em) <= 1, ("6.2.11.5 widths", g)
print("ok", len(specs), "files,", sum(len(c) for _, c in used.values()), "glyphs")
