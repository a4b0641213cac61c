"""What the operating system knows of a running process."""

from __future__ import annotations

import sys


def peak_mb() -> float:
    """Return the most memory this process has held, in megabytes; 0 where the system does not tell."""
    if sys.platform == "win32":
        return 0.0
    import resource

    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return peak / 1e6 if sys.platform == "darwin" else peak / 1e3
