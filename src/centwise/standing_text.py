"""What the learner is told of a block's place among the earlier ones, in whole sentences. No I/O.

Imports standing and below.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from centwise.systems import local_time
from centwise.trend import LIKELY, SURE

if TYPE_CHECKING:
    from datetime import date, datetime

    from centwise.standing import Standing


def standing_sentences(standing: Standing) -> tuple[str, ...]:
    """Say how today compares, most telling first; nothing where there is nothing to compare with yet."""
    said = []
    if standing.usual_low_cents is not None and standing.usual_high_cents is not None:
        usual = f"{standing.usual_low_cents:.1f} to {standing.usual_high_cents:.1f} cents"
        said.append(
            f"Today lies outside your usual range of {usual}: look at the device and its volume first, at noise around "
            "you and at tiredness, then take it again before you trust it."
            if standing.unusual
            else f"Today lies within your usual range of {usual}."
        )
    if standing.number == 1:
        said.append(
            "This is the first block of its kind, mostly learning the task: later ones are not compared with it."
        )
    elif standing.improvement_chance is not None and standing.since is not None and not standing.unusual:
        said.append(_improvement_sentence(standing.improvement_chance, day_text(standing.since)))
    if standing.agreement is not None:
        low, high = standing.agreement.low_ratio, standing.agreement.high_ratio
        said.append(f"The next assessment has come to between {low:.2f} and {high:.2f} times the last, 19 times in 20.")
    return tuple(said)


def _improvement_sentence(chance: float, since: str) -> str:
    share = min(max(round(100 * chance), 1), 99)
    if chance >= SURE:
        return f"Your ear has become finer since {since}: {share} % sure."
    if chance >= LIKELY:
        return f"Your ear has probably become finer since {since}: {share} % sure, and more blocks will tell."
    if chance <= 1.0 - SURE:
        return f"Your ear was finer on {since}: {100 - share} % sure. Rest, and look at the device and the room."
    return f"Since {since} nothing has changed that one could be sure of: an ear moves slowly, so keep to short blocks."


def day_text(instant: datetime) -> str:
    """Write the day of an instant on this machine's own calendar, as in 3 March 2026."""
    return date_text(local_time(instant))


def date_text(day: date) -> str:
    """Write a day, as in 3 March 2026."""
    return f"{day.day} {day:%B %Y}"
