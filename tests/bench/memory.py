"""What a process holds of memory for itself."""

from __future__ import annotations

from pathlib import Path


def resident_kb(pid: int | str) -> int:
    """Private pages in memory: what would be free if this process alone ended. `self` is the asking one."""
    rolled = Path(f"/proc/{pid}/smaps_rollup").read_text()
    return sum(
        int(line.split()[1])
        for line in rolled.splitlines()
        if line.startswith(("Private_Clean", "Private_Dirty"))
    )
