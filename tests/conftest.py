"""What holds for every test."""

from __future__ import annotations

import os
import signal
import time

from hypothesis import HealthCheck, Phase, settings

from centwise.__main__ import ONE_THREAD

# As the program does for itself, before numpy loads: a second BLAS thread makes a tone take longer.
for variable in ONE_THREAD:
    os.environ.setdefault(variable, "1")

# The programs that tests start write through a buffer, as they do for those who use them.
os.environ.pop("PYTHONUNBUFFERED", None)

# Days are told on the calendar of the place: here it is the same place everywhere.
os.environ["TZ"] = "UTC"
if hasattr(time, "tzset"):  # not on Windows
    time.tzset()

# In the background or under nohup, tests are told to ignore signals, and the programs they start would inherit that.
for name, usual in (("SIGINT", signal.default_int_handler), ("SIGHUP", signal.SIG_DFL)):
    number = getattr(signal, name, None)  # Windows has no SIGHUP
    if number is not None and signal.getsignal(number) == signal.SIG_IGN:
        signal.signal(number, usual)

# A machine at full load is slow, not wrong; and what passed once passes again: what is new is looked for by tests/fuzz.
settings.register_profile(
    "calm", derandomize=True, database=None, deadline=None, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("calm")

# For tests/mutation.py: thousands of runs, each the same whenever it is run, and none to be told in the fewest words.
settings.register_profile(
    "mutation",
    max_examples=15,
    derandomize=True,
    database=None,
    deadline=None,
    phases=(Phase.explicit, Phase.generate),
)
