"""Whether what a season says of people is so: `python -m benchmarks.season_truth [--whole N] [--seasons N] [--seed N]`.

Two tables. The first is of whole seasons of the simulator (`searchwake simulate --season`), every run of them put
through the engine: a minute a season. The second is of the trends alone, on many seasons whose runs are drawn: the
measures of a drawn run have the distributions, and hang together, as those of the whole seasons do, person by person;
what changes over the days of the two who are made to change does so as fast as it was measured to. In the drawn seasons
the runs of a day, and neighbouring days, can be made to resemble each other, in whole seasons they do as they do.

Who changes is known: Kaja Solbrekk turns back sooner, Remo Antelli slows earlier, all others change nothing. "Worse"
counts all ten, for none of them gets worse. `--keep`: a folder for the lines of the whole seasons, so that a second
call need not measure them again.
"""

import argparse
import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from scipy.special import ndtr

from analyzer.engine.pipeline import analyze_drill
from analyzer.engine.run_line import run_line
from analyzer.files.results.run_line_json import from_json, to_json
from analyzer.files.rules_toml import default_rules
from analyzer.lab.simulate.season import CLUB, DAYS, FIRST_DAY, SLOWS_EARLIER, STAYS, TURNS_SOONER, season_drills
from analyzer.model.figure import Figure, exact
from analyzer.model.measures import FOLLOWED
from analyzer.model.run_line import RunLine
from analyzer.seasons.model import BETTER, CLEAR, WORSE, PersonSeason
from analyzer.seasons.trend import person_season

PLANTED = {TURNS_SOONER: "turnaround_s", SLOWS_EARLIER: "pace_at_3_m"}
KINDS = (TURNS_SOONER, SLOWS_EARLIER, STAYS, "others")
RUNS_A_DAY = 2
CHANGES_FROM_T = 4.0
"""A measure of who is made to change has a course where its slope is so many of its standard errors."""
RESEMBLING = {"days and runs independent": (0.0, 0.0), "0.3 within and between days": (0.3, 0.3),
              "0.9 within, 0.3 between": (0.9, 0.3)}  # fmt: skip
"""Correlation of two runs of a day, and of what neighbouring days have in common, on the normal scale."""


@dataclass(slots=True)
class Tally:
    """What was said, and of how many."""

    asked: int = 0
    clear: int = 0
    likely: int = 0

    def add(self, *, clear: bool, likely: bool) -> None:
        self.asked, self.clear, self.likely = self.asked + 1, self.clear + clear, self.likely + (clear or likely)

    def words(self) -> str:
        share = 100.0 / max(self.asked, 1)
        return f"{share * self.clear:5.1f} % clear, {share * self.likely:5.1f} % with perhaps (of {self.asked})"


class Told:
    """What was said of people whose changes are known."""

    def __init__(self) -> None:
        self.named = {name: Tally() for name in PLANTED}
        self.worse, self.unchanged = Tally(), Tally()

    def add(self, name: str, season: PersonSeason) -> None:
        trends = {t.measure.key: t for t in season.trends}
        if name in PLANTED:
            trend = trends[PLANTED[name]]
            self.named[name].add(clear=trend.way == BETTER and trend.state == CLEAR, likely=trend.way == BETTER)
        else:
            said = [t for t in season.trends if t.way]
            self.unchanged.add(clear=any(t.state == CLEAR for t in said), likely=bool(said))
        worse = [t for t in season.trends if t.way == WORSE]
        self.worse.add(clear=any(t.state == CLEAR for t in worse), likely=bool(worse))

    def show(self, title: str) -> None:
        print(title)
        for name, tally in self.named.items():
            print(f"  {name}, {PLANTED[name]} named better: {tally.words()}")
        print(f"  nobody gets worse; called worse:             {self.worse.words()}")
        print(f"  people without change; any change called:    {self.unchanged.words()}")


def whole_season(seed: int, keep: Path | None) -> list[RunLine]:
    """Return the lines of all runs of a season of the simulator, measured as the engine measures."""
    kept = keep / f"season_{seed}.json" if keep else None
    if kept is not None and kept.exists():
        return [from_json(values) for values in json.loads(kept.read_text(encoding="utf-8"))]
    lines = []
    for one in season_drills(seed):
        results = analyze_drill(one.drill.drill, [run.recording for run in one.runs()], default_rules())
        lines += [run_line(result, one.folder, result.run_id) for result in results]
    if kept is not None:
        kept.parent.mkdir(parents=True, exist_ok=True)
        kept.write_text(json.dumps([to_json(line) for line in lines]), encoding="utf-8")
    return lines


@dataclass(frozen=True)
class Kind:
    """One kind of person: `rows` (N, M) of measures, NaN where a run does not show one; `slope` (M,) a day; `cross`
    (M, M), how the measures hang together."""

    rows: np.ndarray
    slope: np.ndarray
    cross: np.ndarray

    def drawn(self, rng: np.random.Generator, within: float, between: float, speed: float) -> np.ndarray:
        """Return a season (days, runs, M) of such a person, who changes `speed` times as fast."""
        days, runs, size = DAYS, RUNS_A_DAY, self.rows.shape[1]
        root = np.linalg.cholesky(self.cross).T
        common, own = rng.standard_normal((days, size)), rng.standard_normal((days, runs, size))
        for day in range(1, days):
            common[day] = between * common[day - 1] + np.sqrt(1.0 - between**2) * common[day]
        normal = (np.sqrt(within) * common[:, None, :] + np.sqrt(1.0 - within) * own) @ root
        share = ndtr(normal)
        made = np.empty_like(share)
        for m in range(size):
            pool = self.rows[:, m][np.isfinite(self.rows[:, m])]
            made[..., m] = np.quantile(pool, share[..., m]) if len(pool) else np.nan
            missing = rng.uniform(size=(days, runs)) < 1.0 - len(pool) / len(self.rows)
            made[..., m][missing] = np.nan
        return made + speed * self.slope * (np.arange(days) - (days - 1) / 2.0)[:, None, None]


def kinds_of(seasons: Sequence[Sequence[RunLine]]) -> dict[str, Kind]:
    """Return the kinds of people, from their days of practice in the whole seasons."""
    found = {}
    club = {name for name, _, _ in CLUB}
    for kind in KINDS:
        own = [
            line
            for lines in seasons
            for line in lines
            if line.drill.startswith("practice")
            and (line.searcher == kind or (kind == "others" and line.searcher in club - set(KINDS)))
        ]
        day = np.array([int(line.drill.removeprefix("practice_")) - 1 for line in own]) - (DAYS - 1) / 2.0
        rows = np.array([[m.value if isinstance(m, Figure) else np.nan for _, m in line.measures] for line in own])
        slope = np.zeros(rows.shape[1])
        if kind in PLANTED:
            for m in range(rows.shape[1]):
                slope[m] = _course(day, rows[:, m])
        found[kind] = Kind(rows - slope * day[:, None], slope, _cross(rows - slope * day[:, None]))
    return found


def _course(day: np.ndarray, values: np.ndarray) -> float:
    """Return the least-squares slope, 0 where it could be chance."""
    known = np.isfinite(values)
    if known.sum() < 10 or np.ptp(values[known]) == 0.0:
        return 0.0
    x, y = day[known], values[known]
    slope, at_zero = np.polyfit(x, y, 1)
    error = np.std(y - slope * x - at_zero) / np.sqrt(np.sum((x - x.mean()) ** 2))
    return float(slope) if abs(slope) > CHANGES_FROM_T * error else 0.0


def _cross(rows: np.ndarray) -> np.ndarray:
    """Return the rank correlation of the measures (M, M), made positive definite."""
    size = rows.shape[1]
    cross = np.eye(size)
    for a in range(size):
        for b in range(a):
            both = np.isfinite(rows[:, a]) & np.isfinite(rows[:, b])
            ranks = [np.argsort(np.argsort(rows[both, m], kind="stable")) for m in (a, b)]
            if both.sum() > 20 and min(np.ptp(rows[both, m]) for m in (a, b)) > 0.0:
                cross[a, b] = cross[b, a] = np.corrcoef(*ranks)[0, 1]
    values, vectors = np.linalg.eigh(cross)
    cross = vectors * np.maximum(values, 1e-3) @ vectors.T
    scale = np.sqrt(np.diag(cross))
    return cross / scale / scale[:, None]


def drawn_lines(values: np.ndarray, name: str) -> list[RunLine]:
    """Return lines of a drawn season (days, runs, M), a week between two days."""
    lines = []
    for day, runs in enumerate(values):
        for number, run in enumerate(runs):
            start = FIRST_DAY.timestamp() + 86400.0 * 7.0 * day + 1200.0 * number
            measures = tuple(
                (m.key, exact(float(v if m.key == "score" else max(v, 0.0)), m.unit))
                for (m, _), v in zip(FOLLOWED, run, strict=True)
                if np.isfinite(v)
            )
            lines.append(RunLine(name, f"day-{day}", f"run-{number}", _iso(start), 1.0, 1.0, measures, ()))
    return lines


def _iso(seconds: float) -> str:
    return np.datetime_as_string(np.datetime64(int(seconds), "s"), timezone="UTC")


def drawn_table(
    kinds: dict[str, Kind], seasons: int, seed: int, within: float, between: float, *, speed: float = 1.0
) -> Told:
    """Return what is said of drawn seasons of ten people; the two who change do so `speed` times as fast."""
    told = Told()
    for number in range(seasons):
        for person, (name, _, _) in enumerate(CLUB):
            rng = np.random.default_rng([seed, number, person])
            values = kinds[name if name in kinds else "others"].drawn(rng, within, between, speed)
            told.add(name, person_season(name, drawn_lines(values, name)))
    return told


def main() -> None:
    """Print both tables."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--whole", type=int, default=5, help="whole seasons, a minute each; %(default)s if left out")
    parser.add_argument("--seasons", type=int, default=200, help="drawn seasons; %(default)s if left out")
    parser.add_argument("--seed", type=int, default=100, help="of the first season; %(default)s if left out")
    parser.add_argument("--keep", type=Path, help="folder that keeps the lines of the whole seasons")
    asked = parser.parse_args()
    seasons = [whole_season(asked.seed + i, asked.keep) for i in range(asked.whole)]
    for title, part in (("with the event", ""), ("the eight days alone", "practice")):
        told = Told()
        for lines in seasons:
            for name, _, _ in CLUB:
                told.add(
                    name, person_season(name, [x for x in lines if x.searcher == name and x.drill.startswith(part)])
                )
        told.show(f"Whole seasons through the engine, {title}: {asked.whole} from seed {asked.seed}")
    kinds = kinds_of(seasons)
    for title, (within, between) in RESEMBLING.items():
        told = drawn_table(kinds, asked.seasons, asked.seed, within, between)
        told.show(f"Drawn seasons, {title}: {asked.seasons}")
    told = drawn_table(kinds, asked.seasons, asked.seed, 0.3, 0.3, speed=0.5)
    told.show(f"Drawn seasons, 0.3 within and between days, half the change: {asked.seasons}")


if __name__ == "__main__":
    main()
