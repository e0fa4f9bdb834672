"""Rows of the accuracy table on other kinds of logs, drills, receivers, recorders and noise than the usual ones."""

from collections.abc import Sequence

from analyzer.lab.evaluate.blocks import COLUMNS, NOISE_WORDS
from analyzer.lab.evaluate.cells import NO_RUNS, Cell, Row, pair, share, size
from analyzer.lab.evaluate.finding_rows import false_findings
from analyzer.lab.evaluate.interval_rows import HELD, Trials, claimed, claims_in, held, of
from analyzer.lab.evaluate.trial import Trial

CLAIMED_ELSEWHERE = (0.6, 1.6)
FIXES_NEAR_AT_LEAST = 0.95
OTHER_KINDS = {
    "by_hand": "log written by hand, whole seconds",
    "three": "three transmitters, the first found",
    "two_antennas": "receiver with two antennas",
    "one_antenna": "receiver with one antenna",
}


def other_rows(makers: Sequence[Trials]) -> tuple[Row, ...]:
    """Return the main figures on logs written by hand, three transmitters and receivers of fewer antennas.

    A column for the runs of each maker.
    """
    rows = []
    for kind, words in OTHER_KINDS.items():
        pairs = [of(t, f"{kind}/readings") for t in makers]
        rows += [
            Row(f"{words}: fused error in fine search", tuple(pair(t, "fused_rms_m") for t in pairs)),
            Row("  start of fine search", tuple(size(t, "fine_start_s", "s", None) for t in pairs)),
            Row("  walked / field line ratio, absolute", tuple(size(t, "path_ratio", "", None) for t in pairs)),
            Row("  intervals that hold the truth", tuple(held(claims_in(t), HELD["readings"]) for t in pairs)),
            Row("  findings that are false, per 100 runs", tuple(false_findings(t, 5.0) for t in pairs)),
        ]
    return tuple(rows)


def noise_rows(trials: Trials, noises: Sequence[str]) -> tuple[Row, ...]:
    """Return what is left of the accuracy on noise that the engine does not assume. Only claims have limits."""
    rows = []
    for name in noises:
        own = [of(trials, f"noise/{name}/{c}") for c in COLUMNS[:2]]
        words = NOISE_WORDS[name]
        rows += [
            Row(f"{words}: fused error in fine search", tuple(pair(t, "fused_rms_m") for t in own)),
            Row("  the fixes themselves", tuple(pair(t, "raw_rms_m") for t in own)),
            Row("  mean squared error over claimed variance", tuple(claimed(t, CLAIMED_ELSEWHERE) for t in own)),
            Row("  intervals that hold the truth", tuple(held(claims_in(t)) for t in own)),
            Row("  false wrong ways", tuple(Cell(f"{sum(x.events[3] for x in t)} in {len(t)} runs") for t in own)),
        ]
    return tuple(rows)


def sparse_rows(trials: Trials) -> tuple[Row, ...]:
    """Return the rows on recordings with a fix every 11 to 30 s; of survey-grade ones nothing is asked."""
    own = [(c, of(trials, f"sparse/{c}")) for c in COLUMNS[:2]]
    return (
        Row(
            "fixes 11 to 30 s apart: used fixes within 2.45 stated sigma of the path",
            (*(_near(t) for _, t in own), None),
            "where no sigma is stated, that which is assumed of the recorder",
        ),
        Row("  intervals that hold the truth", (*(held(claims_in(t), HELD[c]) for c, t in own), None)),
        Row("  mean squared error over claimed variance", (*(claimed(t, None) for _, t in own), None)),
        Row("  fused error in fine search", (*(pair(t, "fused_rms_m") for _, t in own), None)),
    )


def _near(trials: Sequence[Trial]) -> Cell:
    near, used = (int(sum(t.numbers.get(name, 0.0) for t in trials)) for name in ("fixes_near", "fixes_used"))
    return share(near, used, at_least=FIXES_NEAR_AT_LEAST) if used else NO_RUNS
