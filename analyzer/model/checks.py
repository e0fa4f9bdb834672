"""What was checked before a drill: who, with what, and how the group's range check went. No result rests on it."""

from dataclasses import dataclass

PASSED, FAILED, NOT_DONE = "passed", "failed", "not done"
GROUP_CHECKS = (PASSED, FAILED, NOT_DONE)
LOW_BATTERY_PERCENT = 40.0
"""Under about this a battery is not taken out: common practice, no source."""


@dataclass(frozen=True, slots=True)
class DrillCheck:
    """One person's check. `receiver`: a name of the club's own. `battery_percent`: None where nobody looked."""

    who: str
    receiver: str = ""
    battery_percent: float | None = None
    firmware: str = ""
    group_check: str = NOT_DONE
    remarks: str = ""
