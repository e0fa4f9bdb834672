"""Moments of a run in words."""


def clock(seconds: float) -> str:
    """Return m:ss of seconds since the start, "2:05"; a moment before the start is shown as the start."""
    whole = max(round(seconds), 0)
    return f"{whole // 60}:{whole % 60:02d}"
