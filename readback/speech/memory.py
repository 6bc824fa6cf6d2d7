"""How much memory this machine has left."""

import ctypes
import sys
from contextlib import suppress
from pathlib import Path

_MEMINFO = Path("/proc/meminfo")


def free_memory_mb() -> float | None:
    """Ask the system how much memory programs can still have, MiB.

    Returns:
        None where it cannot be asked: on macOS.

    Source: proc(5), ``MemAvailable``; Microsoft, ``GlobalMemoryStatusEx`` (from memory).
    """
    if sys.platform == "win32":
        return _windows_free_mb()
    with suppress(OSError, ValueError, IndexError):
        for line in _MEMINFO.read_text(encoding="ascii").splitlines():
            if line.startswith("MemAvailable:"):
                return int(line.split()[1]) / 1024
    return None


def _windows_free_mb() -> float | None:
    status = _MemoryStatus(length=ctypes.sizeof(_MemoryStatus))
    kernel = getattr(ctypes, "windll").kernel32  # noqa: B009 -- only there on Windows
    if not kernel.GlobalMemoryStatusEx(ctypes.byref(status)):
        return None
    return float(status.available) / 2**20


class _MemoryStatus(ctypes.Structure):
    _fields_ = (
        ("length", ctypes.c_ulong),
        ("load_percent", ctypes.c_ulong),
        ("total", ctypes.c_ulonglong),
        ("available", ctypes.c_ulonglong),
        ("total_page_file", ctypes.c_ulonglong),
        ("available_page_file", ctypes.c_ulonglong),
        ("total_virtual", ctypes.c_ulonglong),
        ("available_virtual", ctypes.c_ulonglong),
        ("available_extended", ctypes.c_ulonglong),
    )
