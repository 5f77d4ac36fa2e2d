"""The names of the instruments that come with the program: enough for a help page, without reading any.

Imports nothing of centwise.
"""

from __future__ import annotations

DEFAULT_NAME = "five-string"
BUILT_IN_NAMES = (
    DEFAULT_NAME,
    "five-string-double-c",
    "five-string-long-neck",
    "plectrum",
    "tenor-17",
    "tenor-19",
    "mandolin",
    "archtop-guitar",
)
