"""Memory of a program with many threads: what is freed by one of them is there for the others."""

import ctypes

_ARENA_MAX = -8
"""M_ARENA_MAX of glibc's malloc.h; other C libraries have no such function, or take no such number."""
ARENAS = 2


def few_heaps() -> None:
    """Let all threads share two heaps, where the C library is glibc.

    It gives each thread a heap of its own, and each keeps what the largest page ever took: twelve threads hold twelve
    times as much. Measured with `python -m tests.attacks.memory`: docs/threats.md.
    """
    try:
        ctypes.CDLL(None).mallopt(_ARENA_MAX, ARENAS)
    except (OSError, AttributeError, TypeError):  # Windows, macOS, musl
        return
