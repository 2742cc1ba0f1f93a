"""Reads AprilTags 36h11 with OpenCV's aruco module (python3-opencv 4.6.0).

Usage: read_tags.py PAGE.png ... ; prints JSON: id, corners (pixels; top left
first, clockwise, of the upright pattern), page (0, 1, ...), top to bottom.
"""
import json
import sys

import cv2

dictionary = cv2.aruco.Dictionary_get(cv2.aruco.DICT_APRILTAG_36h11)
parameters = cv2.aruco.DetectorParameters_create()
parameters.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
found = []
for page, path in enumerate(sorted(sys.argv[1:])):
    grey = cv2.imread(path, cv2.IMREAD_GRAYSCALE)
    corners, ids, _ = cv2.aruco.detectMarkers(grey, dictionary, parameters=parameters)
    for quad, ident in zip(corners, [] if ids is None else ids.ravel()):
        found.append({"id": int(ident), "corners": quad[0].astype(float).tolist(), "page": page})
found.sort(key=lambda t: (t["page"], t["corners"][0][1]))
print(json.dumps(found))
