"""The rows of the accuracy table, from trials by block."""

from collections.abc import Sequence

import numpy as np

from analyzer.lab.evaluate.account_rows import account_rows
from analyzer.lab.evaluate.blocks import COLUMN_TITLES, COLUMNS, EXAMINER
from analyzer.lab.evaluate.cells import NO_RUNS, Cell, Row, Section, absent, pair, share, side_by_side, size, values_of
from analyzer.lab.evaluate.finding_rows import finding_rows
from analyzer.lab.evaluate.interval_rows import Trials, claimed, coverage_rows, held_rows, judged, of, silence_rows
from analyzer.lab.evaluate.kind_rows import noise_rows, other_rows, sparse_rows
from analyzer.lab.evaluate.trial import Trial
from analyzer.model.arrays import FloatArray

CLAIMED = (0.8, 1.25)
ANGLE_TOLD = {"readings": 0.40, "track": None, "survey": 0.95}
PHONES_WANTED = {
    "carrier_smoothed": {"readings": (0.19, 0.4), "track": (0.35, 0.5)},
    "single_epoch": {"readings": (0.4, 0.75), "track": (0.6, 0.9)},
}
MAKERS = ("project's simulator", "examiner")
NO_PHONES = Cell("no recordings at hand")


def sections_of(trials: Trials, noises: Sequence[str]) -> tuple[Section, ...]:
    """Return the whole table: by evidence with both simulators side by side, then what only one of them is asked."""
    titles = tuple(COLUMN_TITLES[c] for c in COLUMNS)
    makers = (trials, of_examiner(trials))
    tables = [_rows(own) for own in makers]
    return (
        *(side_by_side(title, MAKERS, tables, i) for i, title in enumerate(titles)),
        Section("Other logs, drills and receivers, with readings", MAKERS, other_rows(makers), together=True),
        Section("Noise other than assumed", titles[:2], noise_rows(trials, noises)),
        Section("90 % intervals that hold the truth, by figure", titles, coverage_rows(trials)),
        Section("The same on the examiner's runs", titles, coverage_rows(of_examiner(trials))),
        Section("Figures not assessable, share of runs", titles, silence_rows(trials)),
    )


def of_examiner(trials: Trials) -> Trials:
    """Return the examiner's trials under the names of the others. It tapes as well as it states."""
    own = {key.removeprefix(f"{EXAMINER}/"): t for key, t in trials.items() if key.startswith(f"{EXAMINER}/")}
    return {**{key.replace("plain/", "taped/"): t for key, t in own.items() if key.startswith("plain/")}, **own}


def _rows(trials: Trials) -> tuple[Row, ...]:
    return (
        *position_rows(trials),
        *claimed_rows(trials),
        *figure_rows(trials),
        *account_rows(trials),
        *finding_rows(trials),
        *held_rows(trials),
        *sparse_rows(trials),
    )


def middle_of(values: FloatArray) -> float:
    """Return the median of the values there are, NaN without any."""
    good = values[np.isfinite(values)]
    return float(np.median(good)) if len(good) else np.nan


def position_rows(trials: Trials) -> tuple[Row, ...]:
    """Return the rows on the error of the fused path in the fine search."""
    main = tuple(
        pair(of(trials, f"taped/{c}"), "fused_rms_m", w)
        for c, w in zip(COLUMNS, ((0.36, 0.65), (0.6, 1.0), (0.012, 0.02)), strict=True)
    )
    raw = tuple(pair(of(trials, f"taped/{c}"), "raw_rms_m") for c in COLUMNS)
    axis = pair(of(trials, "axis/readings"), "fused_rms_m", (0.47, 0.85))
    off = (
        pair(of(trials, "off/readings"), "relative_rms_m", (0.37, 0.6)),
        None,
        pair(of(trials, "off/survey"), "relative_rms_m", (0.05, 0.1)),
    )
    return (
        Row("fused error in fine search, rms, median / 90th percentile", main, "transmitters taped without error"),
        Row("  the fixes themselves", raw),
        Row("  antenna axis not given", (axis, None, None), "one run per drill: no other run helps"),
        *_phone_rows(trials),
        Row("  relative to a transmitter stated 2.5 m off (each axis)", off, "one run per drill"),
    )


def _phone_rows(trials: Trials) -> tuple[Row, ...]:
    kinds = sorted({key.split("/")[1] for key in trials if key.startswith("phone/")})
    title = "  noise taken from real phones on foot"
    if not kinds:
        return (Row(title, (NO_PHONES, NO_PHONES, None)),)
    rows = []
    for kind in kinds:
        wanted = PHONES_WANTED.get(kind, {})
        cells = tuple(pair(of(trials, f"phone/{kind}/{c}"), "fused_rms_m", wanted.get(c)) for c in COLUMNS[:2])
        middle = middle_of(values_of(of(trials, f"phone/{kind}/readings"), "raw_rms_m"))
        words = kind.replace("_", " ")
        rows.append(Row(f"{title}: {words} fixes", (*cells, None), f"fixes themselves: {middle:.2g} m"))
    return tuple(rows)


def claimed_rows(trials: Trials) -> tuple[Row, ...]:
    """Return the row on the error against the claimed variance."""
    cells = tuple(claimed(of(trials, f"plain/{c}"), CLAIMED) for c in COLUMNS)
    far = tuple(_far_off(of(trials, f"plain/{c}")) for c in COLUMNS)
    note = (
        "mean over runs is compared; over a short search the error hardly changes, so the median run of a perfect "
        "claim lies near 0.7"
    )
    return (
        Row("mean squared error over claimed variance", cells, note),
        Row("  runs above 4", far, "of a perfect claim 1.8 %"),
    )


def _far_off(trials: Sequence[Trial]) -> Cell:
    values = values_of(trials, "error_over_claim")
    good = values[np.isfinite(values)]
    return share(int(np.sum(good > 4.0)), len(good), at_most=0.04)


def figure_rows(trials: Trials) -> tuple[Row, ...]:
    """Return the rows on starts, lengths, times and angles."""

    def row(title: str, kind: str, name: str, unit: str, *limits: float | None, note: str = "") -> Row:
        pairs = zip(COLUMNS, limits, strict=True)
        return Row(title, tuple(size(of(trials, f"{kind}/{c}"), name, unit, limit) for c, limit in pairs), note)

    coarse = row("start of coarse search", "plain", "coarse_start_s", "s", 0.5, None, 0.2)
    unmarked = absent(of(trials, "unmarked/track"), "coarse_start_s")
    crossing = row("crossing angle of the bracket", "plain", "crossing_angle_deg", "deg", 12.0, None, 3.0)
    angles = (
        _angle(crossing.cells[0]),
        absent(of(trials, "plain/track"), "crossing_angle_deg"),
        _angle(crossing.cells[2]),
    )
    clock = row("clock offset of up to 30 s", "plain", "clock_offset_s", "s", 0.7, None, 0.3)
    ratio = "walked / field line ratio, absolute", "plain", "path_ratio", "", 0.015, 0.03, 0.005
    return (
        Row(coarse.figure, (coarse.cells[0], unmarked, coarse.cells[2]), "track only: without a first_reading mark"),
        row("start of fine search", "plain", "fine_start_s", "s", 0.5, 2.0, 0.2),
        row(*ratio, note="the field line ends at the transmitter, and with it moves the tape's error"),
        row("  transmitters taped without error", "taped", "path_ratio", "", None, None, None),
        *_event_rows(trials),
        Row(
            "wrong way length",
            tuple(wrong_way_length(of(trials, f"wrong_way/{c}"), c) for c in COLUMNS),
            "runs with a wrong way; the metres of the way out",
        ),
        row("standing, runs with stops", "standing", "standing_s", "s", 0.7, 1.5, 0.3),
        row("  runs without a planned stop", "plain", "standing_s", "s", None, None, None),
        Row(crossing.figure, angles, "of the runs in which it is assessable"),
        Row(
            "  assessable, or its side of the limit told",
            tuple(_angle_told(of(trials, f"plain/{c}"), ANGLE_TOLD[c]) for c in COLUMNS),
            "an angle known poorly is given too where all of its interval lies on one side of what is oblique",
        ),
        Row(clock.figure, (clock.cells[0], None, clock.cells[2])),
    )


def _angle_told(trials: Sequence[Trial], at_least: float | None) -> Cell | None:
    """Return in which share of the runs there is a crossing angle; on a track nobody asks."""
    if at_least is None:
        return None
    values = values_of(trials, "crossing_angle_deg")
    return share(int(np.sum(np.isfinite(values))), len(values), at_least=at_least)


def _angle(cell: Cell | None) -> Cell | None:
    """Return a cell on an angle that may be not assessable: silence is allowed, the worst is told."""
    if cell is None or not cell.numbers:
        return cell
    numbers = dict(cell.numbers)
    limit = float(cell.wanted.split()[1])
    return Cell(
        f"{cell.measured}, worst {numbers['worst']:.0f}",
        f"{cell.wanted} or not assessable",
        numbers["median"] <= limit,
        cell.numbers,
    )


def _event_rows(trials: Trials) -> tuple[Row, ...]:
    limits = {"readings": (0.98, 0.02), "track": (0.90, 0.05), "survey": (1.0, 0.0)}
    found, false = [], []
    for column in COLUMNS:
        counts = np.array([t.events for t in judged(trials, column)], int).reshape(-1, 4).sum(axis=0)
        found.append(share(int(counts[1]), int(counts[0]), at_least=limits[column][0]))
        false.append(share(int(counts[3]), int(counts[2]), at_most=limits[column][1]))
    return (
        Row("wrong way: events over 4 m found", tuple(found)),
        Row(
            "wrong way: reported events that are false",
            tuple(false),
            "of all events reported in runs with and without a wrong way; true from 1.5 m",
        ),
    )


def wrong_way_length(trials: Sequence[Trial], column: str) -> Cell:
    """Return the median error of the wrong-way length, as a share and in metres."""
    limit, metres = {"readings": (0.10, 1.0), "track": (0.25, 0.0), "survey": (0.05, 0.0)}[column]
    wanted = f"≤ {100 * limit:.0f} %" + (f" or {metres:g} m" if metres else "")
    shares, off = np.abs(values_of(trials, "wrong_way_share")), np.abs(values_of(trials, "wrong_way_m"))
    good = np.isfinite(shares)
    if not good.any():
        return NO_RUNS
    part, length = float(np.median(shares[good])), float(np.median(off[good]))
    numbers = (("median_share", part), ("median_m", length), ("p90_share", float(np.quantile(shares[good], 0.9))))
    return Cell(f"{100 * part:.1f} %, {length:.2f} m", wanted, part <= limit or length <= metres, numbers)
