#!/usr/bin/python3
"""Checks every TrueType font embedded in a PDF with pikepdf (Debian 12: 6.0.0) and fontTools
(4.38.0): the sums of its tables and of the file as OpenType asks, its day of change, its
length (ISO 32000-1, table 127). Prints how many fonts there are, and the PDF's title."""
import datetime, io, json, sys
import pikepdf
from fontTools.ttLib import TTFont
from fontTools.ttLib.sfnt import calcChecksum

path, day = sys.argv[1:]
epoch = datetime.date(1904, 1, 1)
seconds = (datetime.date.fromisoformat(day) - epoch).days * 86400
pdf = pikepdf.open(path)
assert str(pdf.docinfo["/CreationDate"]) == "D:" + day.replace("-", "") + "000000Z"
assert str(pdf.Root.Lang) == "en", pdf.Root.Lang
fonts = 0
for o in pdf.objects:
    if not isinstance(o, pikepdf.Dictionary) or o.get("/Type") != "/Font":
        continue
    stream = o.DescendantFonts[0].FontDescriptor.FontFile2
    data = bytes(stream.read_bytes())
    assert stream.Length1 == len(data)
    assert calcChecksum(data) == 0xB1B0AFBA, hex(calcChecksum(data))
    font = TTFont(io.BytesIO(data), checkChecksums=2)  # 2: a wrong sum is an error
    for tag in font.reader.keys():
        font.reader[tag]  # reading a table checks its sum
    assert font["head"].modified == seconds, font["head"].modified
    fonts += 1
print(json.dumps({"fonts": fonts, "title": str(pdf.docinfo["/Title"])}))
