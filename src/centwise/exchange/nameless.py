"""Records fit to be shared: no names, no notes, no folders, and ids that lead back to nobody.

Imports strings and below.
"""

from __future__ import annotations

import hashlib
import uuid
from dataclasses import replace
from typing import TYPE_CHECKING

from centwise.exchange.records import BenchRecord, BlockRecord, Kept
from centwise.strings.names import BUILT_IN_NAMES

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

_PURPOSE = b"centwise data without names\n"


def without_names(records: Iterable[Kept]) -> Iterator[Kept]:
    """Give the same records without what says whose they are.

    Each listener is called by a few digits of a new id; notes, the folder of a file player and the fingerprint of a
    recording are left out. Ids are made anew from the old ones by SHA-256, so that the same data shared again are known
    for the same, while nobody comes back from a new id to an old one: ids are random, there is no list to try. An
    instrument of one's own is called by a few digits too, made from its name and its listener's id.
    """
    for record in records:
        if isinstance(record, BlockRecord):
            plan = record.plan
            yield replace(
                record,
                plan=replace(
                    plan,
                    id=other_id(plan.id),
                    listener_id=other_id(plan.listener_id),
                    condition=replace(
                        plan.condition, instrument=_instrument(plan.condition.instrument, plan.listener_id)
                    ),
                    player=_without_folder(plan.player),
                    take_sha256=None,
                ),
            )
        elif isinstance(record, BenchRecord):
            rehearsal = record.plan
            yield replace(
                record,
                plan=replace(
                    rehearsal,
                    id=other_id(rehearsal.id),
                    listener_id=other_id(rehearsal.listener_id),
                    instrument=_instrument(rehearsal.instrument, rehearsal.listener_id),
                    player=_without_folder(rehearsal.player),
                ),
            )
        else:
            new = other_id(record.listener.id)
            yield replace(
                record,
                listener=replace(
                    record.listener,
                    id=new,
                    name=f"listener {new[:8]}",
                    note="",
                    instrument=_instrument(record.listener.instrument, record.listener.id),
                ),
                merged_ids=tuple(sorted(other_id(one) for one in record.merged_ids)),
            )


def _instrument(name: str, listener_id: str) -> str:
    """Return a built-in instrument's name, or one that stands for an instrument of one's own.

    The name alone could be guessed and tried; the listener's id is random.
    """
    return name if name in BUILT_IN_NAMES else f"own-{other_id(f'{listener_id} {name}')[:8]}"


def _without_folder(player: str) -> str:
    return "file" if player.startswith("file:") else player


def other_id(old: str) -> str:
    """Return the id that stands for an id in data without names, in the form of a UUID."""
    return str(uuid.UUID(bytes=hashlib.sha256(_PURPOSE + old.encode()).digest()[:16], version=5))
