"""What holds for every test."""

from __future__ import annotations

import os

from centwise.__main__ import ONE_THREAD

# As the program does for itself, before numpy loads: a second BLAS thread makes a tone take longer.
for variable in ONE_THREAD:
    os.environ.setdefault(variable, "1")
