"""How much a child that reads a file from elsewhere may take of this machine, whatever is in that file."""

from __future__ import annotations

import sys


def cap(memory_bytes: int, cpu_seconds: int) -> None:
    """End this process where it asks for more memory or processor time; it leaves no core file. Not on Windows, which has no such limits."""
    if sys.platform == "win32":
        return
    import resource

    for kind, amount in ((resource.RLIMIT_AS, memory_bytes), (resource.RLIMIT_CPU, cpu_seconds)):
        _, hard = resource.getrlimit(kind)
        resource.setrlimit(kind, (amount if hard == resource.RLIM_INFINITY else min(amount, hard), hard))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
