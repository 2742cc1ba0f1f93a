"""Areas and perimeters of polygons by GEOS itself (C library libgeos_c, GEOSArea and GEOSLength).

In: a JSON list of WKT texts. Out: a JSON object: version, and per text [area, length, valid].
Standard library of Python 3 only.
"""
import ctypes
import json
import sys

geos = ctypes.CDLL("libgeos_c.so.1")
geos.GEOS_init_r.restype = ctypes.c_void_p
geos.GEOSversion.restype = ctypes.c_char_p
geos.GEOSWKTReader_create_r.argtypes = [ctypes.c_void_p]
geos.GEOSWKTReader_create_r.restype = ctypes.c_void_p
geos.GEOSWKTReader_read_r.argtypes = [ctypes.c_void_p, ctypes.c_void_p, ctypes.c_char_p]
geos.GEOSWKTReader_read_r.restype = ctypes.c_void_p
geos.GEOSisValid_r.argtypes = [ctypes.c_void_p, ctypes.c_void_p]
geos.GEOSisValid_r.restype = ctypes.c_char
for f in (geos.GEOSArea_r, geos.GEOSLength_r):
    f.argtypes = [ctypes.c_void_p, ctypes.c_void_p, ctypes.POINTER(ctypes.c_double)]
    f.restype = ctypes.c_int

handle = geos.GEOS_init_r()
reader = geos.GEOSWKTReader_create_r(handle)
out = []
for text in json.load(sys.stdin):
    g = geos.GEOSWKTReader_read_r(handle, reader, text.encode())
    if not g:
        raise SystemExit("GEOS cannot read " + text[:80])
    area, length = ctypes.c_double(), ctypes.c_double()
    if not (geos.GEOSArea_r(handle, g, area) and geos.GEOSLength_r(handle, g, length)):
        raise SystemExit("GEOS gives no area")
    out.append([area.value, length.value, geos.GEOSisValid_r(handle, g) == b"\x01"])
json.dump({"version": geos.GEOSversion().decode(), "of": out}, sys.stdout)
