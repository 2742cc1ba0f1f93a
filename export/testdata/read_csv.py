"""Reads a CSV file with Python's csv module and prints its rows as JSON.

Made for: Python 3.11 (Debian 12). Run by csv_test.go.
"""
import csv
import json
import sys

with open(sys.argv[1], newline="", encoding="utf-8") as f:
    json.dump(list(csv.reader(f, strict=True)), sys.stdout)
