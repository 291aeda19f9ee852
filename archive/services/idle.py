"""Is the machine idle? On mains power, and its processors busy for less than a quarter of three seconds."""

from __future__ import annotations

import contextlib

import psutil

LOOK_S = 3.0
BUSY_PERCENT = 25.0


def machine_is_idle() -> bool:
    """Looks for three seconds. Only to be asked while none of our own work is under way."""
    battery = psutil.sensors_battery() if hasattr(psutil, "sensors_battery") else None
    if battery is not None and battery.power_plugged is False:
        return False
    return bool(psutil.cpu_percent(interval=LOOK_S) < BUSY_PERCENT)


def give_way(pid: int) -> None:
    """Let everything else on this machine go before this process."""
    with contextlib.suppress(psutil.Error):
        process = psutil.Process(pid)
        process.nice(psutil.BELOW_NORMAL_PRIORITY_CLASS if psutil.WINDOWS else 10)
