"""Pages of HTML to read or print: self-contained, light and dark, names escaped. Jinja2 is loaded here alone.

Imports chain and below.
"""

from __future__ import annotations

import logging

# Before any module here loads matplotlib: on our stderr it would say that it looks through all fonts when it runs for
# the first time, and that it takes a folder for this run alone where it may not write to the home folder.
logging.getLogger("matplotlib").setLevel(logging.ERROR)
