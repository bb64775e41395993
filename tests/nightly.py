"""How a run by night tells what it found: a table, then the faults."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

MOST_FAULTS = 40  # of a row that are shown


def show(
    headings: Sequence[str], rows: Sequence[Sequence[object]], faults: Mapping[str, Sequence[str]]
) -> int:
    """Print it in Markdown; the exit code: 1 where there was a fault.

    faults : by the row that they belong to
    """
    print(f"| {' | '.join(headings)} |")
    print("|---" * len(headings) + "|")
    for row in rows:
        print(f"| {' | '.join(map(str, row))} |")
    for name, found in faults.items():
        for fault in found[:MOST_FAULTS]:
            print(f"{name}: {fault}")
    return 1 if any(faults.values()) else 0
