"""The rows of the accuracy table, from trials by block."""

from collections.abc import Iterable, Mapping, Sequence

import numpy as np

from analyzer.lab.evaluate.account_rows import account_rows
from analyzer.lab.evaluate.blocks import COLUMN_TITLES, COLUMNS, EXAMINER, NOISE_WORDS
from analyzer.lab.evaluate.cells import (
    LEAST_HELD,
    NO_RUNS,
    Cell,
    Row,
    Section,
    absent,
    between,
    pair,
    share,
    side_by_side,
    size,
    values_of,
)
from analyzer.lab.evaluate.claims import Claim
from analyzer.lab.evaluate.finding_rows import false_findings, finding_rows
from analyzer.lab.evaluate.trial import Trial
from analyzer.model.arrays import FloatArray

Trials = Mapping[str, Sequence[Trial]]
HELD = {"readings": (0.85, 0.95), "track": (0.85, 0.95), "survey": (0.85, 0.97)}
CLAIMED, CLAIMED_ELSEWHERE = (0.8, 1.25), (0.6, 1.6)
ANGLE_TOLD = {"readings": 0.40, "track": None, "survey": 0.95}
PHONES_WANTED = {
    "carrier_smoothed": {"readings": (0.19, 0.4), "track": (0.35, 0.5)},
    "single_epoch": {"readings": (0.4, 0.75), "track": (0.6, 0.9)},
}
MAKERS = ("project's simulator", "examiner")
OTHER_KINDS = {
    "by_hand": "log written by hand, whole seconds",
    "three": "three transmitters, the first found",
    "two_antennas": "receiver with two antennas",
    "one_antenna": "receiver with one antenna",
}
NO_PHONES = Cell("no recordings at hand")


def sections_of(trials: Trials, noises: Sequence[str]) -> tuple[Section, ...]:
    """Return the whole table: by evidence with both simulators side by side, then what only one of them is asked."""
    titles = tuple(COLUMN_TITLES[c] for c in COLUMNS)
    tables = [_rows(trials), _rows(of_examiner(trials))]
    return (
        *(side_by_side(title, MAKERS, tables, i) for i, title in enumerate(titles)),
        other_section(trials),
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
    )


def of(trials: Trials, *keys: str) -> tuple[Trial, ...]:
    """Return the trials of several blocks."""
    return tuple(t for key in keys for t in trials.get(key, ()))


def middle_of(values: FloatArray) -> float:
    """Return the median of the values there are, NaN without any."""
    good = values[np.isfinite(values)]
    return float(np.median(good)) if len(good) else np.nan


def _whole(trials: Trials, column: str) -> tuple[Trial, ...]:
    return of(trials, f"plain/{column}", f"wrong_way/{column}", f"standing/{column}")


def other_section(trials: Trials) -> Section:
    """Return the main figures on logs written by hand, three transmitters and receivers of fewer antennas."""
    rows = []
    for kind, words in OTHER_KINDS.items():
        pairs = [of(t, f"{kind}/readings") for t in (trials, of_examiner(trials))]
        rows += [
            Row(f"{words}: fused error in fine search", tuple(pair(t, "fused_rms_m") for t in pairs)),
            Row("  start of fine search", tuple(size(t, "fine_start_s", "s", None) for t in pairs)),
            Row("  walked / field line ratio, absolute", tuple(size(t, "path_ratio", "", None) for t in pairs)),
            Row("  intervals that hold the truth", tuple(held(_claims(t)) for t in pairs)),
            Row("  findings that are false, per 100 runs", tuple(false_findings(t, 5.0) for t in pairs)),
        ]
    return Section("Other logs, drills and receivers, with readings", MAKERS, tuple(rows), together=True)


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


def claimed(trials: Sequence[Trial], limits: tuple[float, float]) -> Cell:
    """Return mean and median over runs of the squared error over the claimed variance; the mean is compared."""
    values = values_of(trials, "error_over_claim")
    good = values[np.isfinite(values)]
    wanted = f"{limits[0]:g} .. {limits[1]:g}"
    if not len(good):
        return NO_RUNS
    mean, middle = float(np.mean(good)), float(np.median(good))
    numbers = (("mean", mean), ("median", middle), ("p90", float(np.quantile(good, 0.9))))
    return between(mean, f"mean {mean:.2f}, median {middle:.2f}", limits, wanted, numbers)


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
        Row("  assessable", tuple(_angle_told(of(trials, f"plain/{c}"), ANGLE_TOLD[c]) for c in COLUMNS)),
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
        counts = np.array([t.events for t in _whole(trials, column)], int).reshape(-1, 4).sum(axis=0)
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


def _claims(trials: Iterable[Trial]) -> tuple[Claim, ...]:
    return tuple(c for t in trials for c in t.claims)


def held_rows(trials: Trials) -> tuple[Row, ...]:
    """Return the row on all intervals together."""
    cells = tuple(held(_claims(_whole(trials, c)), HELD[c]) for c in COLUMNS)
    starts = tuple(held(_claims_on(_whole(trials, c), "start.pinpoint"), HELD[c]) for c in COLUMNS)
    return (
        Row("90 % intervals that hold the truth", cells, "all figures with a truth; by figure below"),
        Row("  of the start of pinpoint", starts),
    )


def _claims_on(trials: Iterable[Trial], figure: str) -> tuple[Claim, ...]:
    return tuple(c for c in _claims(trials) if c.figure == figure)


def held(claims: Sequence[Claim], wanted: tuple[float, float] | None = None) -> Cell:
    """Return the share of intervals that hold their truth."""
    made = [c for c in claims if c.made]
    if not made:
        return Cell("none given") if claims else NO_RUNS
    part = sum(c.holds for c in made) / len(made)
    numbers = (("share", part), ("of", float(len(made))))
    if wanted is None:
        return Cell(f"{100 * part:.0f} % of {len(made)}", numbers=numbers)
    return between(
        part, f"{100 * part:.1f} % of {len(made)}", wanted, f"{100 * wanted[0]:g} .. {100 * wanted[1]:g} %", numbers
    )


def coverage_rows(trials: Trials) -> tuple[Row, ...]:
    """Return the share of intervals that hold the truth, figure by figure."""
    by_column = [_claims(_whole(trials, c)) for c in COLUMNS]
    names = dict.fromkeys(c.figure for claims in by_column for c in claims)
    return tuple(
        Row(name, tuple(_held_by_itself(claims, name, c) for c, claims in zip(COLUMNS, by_column, strict=True)))
        for name in names
    )


def _held_by_itself(claims: Sequence[Claim], name: str, column: str) -> Cell | None:
    own = [c for c in claims if c.figure == name]
    many = sum(c.made for c in own) >= LEAST_HELD
    cell = held(own, HELD[column] if many else None)
    return None if cell == NO_RUNS else cell


def silence_rows(trials: Trials) -> tuple[Row, ...]:
    """Return how often figures that have a truth are not assessable, those that ever are."""
    by_column = [_claims(of(trials, f"plain/{c}")) for c in COLUMNS]
    names = dict.fromkeys(c.figure for claims in by_column for c in claims if not c.made)
    return tuple(
        Row(name, tuple(_silence([c for c in claims if c.figure == name]) for claims in by_column)) for name in names
    )


def _silence(claims: Sequence[Claim]) -> Cell:
    return share(sum(not c.made for c in claims), len(claims))


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
            Row("  intervals that hold the truth", tuple(held(_claims(t)) for t in own)),
            Row("  false wrong ways", tuple(Cell(f"{sum(x.events[3] for x in t)} in {len(t)} runs") for t in own)),
        ]
    return tuple(rows)
