"""Which step may a piece take next, and in which words is a wrong one refused?"""

from __future__ import annotations

FAULTS = [
    ("s_crack", "S-crack"),
    ("rim_crack", "rim crack"),
    ("handle_crack", "handle crack"),
    ("explosion", "blew up"),
    ("knock", "knocked or dropped"),
    ("crawl", "crawling"),
    ("pinhole", "pinholes"),
    ("run", "glaze ran"),
    ("blister", "blisters"),
    ("bloat", "bloating"),
    ("dunt", "dunt"),
    ("craze", "crazing"),
    ("shiver", "shivering"),
    ("stuck", "stuck to the shelf"),
    ("warp", "warped"),
    ("colour", "colour off"),
    ("other", "something else"),
]
"""Faults a potter names; common practice, no source."""

NEXT_STAGE = {
    "thrown": "bisqued",
    "bisqued": "glazed",
    "glazed": "fired",
    "fired": "graded",
    "graded": "listed",
}
