"""The machine-readable form of outages, with keys that do not change (see the head of records.py)."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from fleet.outputs.records import hours_record, number, spread_record
from fleet.values.outage import Failure, Outage, OutageRow, RankedFailure, SpareGives


def outage_records(outage: Outage) -> list[dict[str, Any]]:
    """One record for each tank concerned, the most urgent first.

    `hours` run to `limit_c`, the upper act limit or, where the tank cools, the lower one; `peak_c` is the water
    farthest on the way there. `limit_at` is the instant at which the low estimate crosses, with the offset of the zone
    of the site.
    """
    return [_row(row) for row in outage.rows]


def ranked_records(ranked: Iterable[RankedFailure]) -> list[dict[str, Any]]:
    """One record for each single failure, the worst first, with the records of its tanks."""
    return [
        {
            "kind": failure.kind,
            "cause": failure.cause,
            "failure": _failure(failure.failure),
            "tank": failure.rows[0].tank,
            "hours": hours_record(failure.rows[0].hours),
            "tanks_within_24_h": failure.within_a_day,
            "tanks": [_row(row) for row in failure.rows],
        }
        for failure in ranked
    ]


def _row(row: OutageRow) -> dict[str, Any]:
    return {
        "tank": row.tank,
        "site": row.site,
        "room": row.room,
        "hours": {"low": number(row.hours.low), "mid": number(row.hours.mid), "high": number(row.hours.high)},
        "reaches_limit": str(row.hours.reaches_limit),
        "limit_at": None if row.limit_at is None else row.limit_at.isoformat(timespec="seconds"),
        "peak_c": number(row.peak_c),
        "limit_c": number(row.limit_c),
        "n_minus_1_after": number(row.n_minus_1_after),
        "spare": None if row.spare is None else _spare(row.spare),
    }


def _spare(spare: SpareGives) -> dict[str, Any]:
    return {
        "device": spare.device,
        "rated_w": number(spare.rated_w),
        "capacity_w": spread_record(spare.capacity_w),
        "hours": hours_record(spare.hours),
    }


def _failure(failure: Failure) -> dict[str, list[str]]:
    return {"ac_off": list(failure.ac_off), "lost": list(failure.lost), "power_out": list(failure.power_out)}
