"""Which runs are simulated for the accuracy table: blocks of runs that differ in their seeds alone.

Run i of every block has the same seed, so blocks differ in what they are about and not in the luck of the draw.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from analyzer.lab.simulate import FAULTS, DrillSettings, ReadingSettings, RecorderSettings, RunSettings
from analyzer.lab.simulate.faults import PHASES
from analyzer.lab.simulate.noise_models import MarkovNoise, NoiseModel, SeriesNoise, WhiteNoise

COLUMNS = ("readings", "track", "survey")
COLUMN_TITLES = {"readings": "with readings", "track": "track only", "survey": "survey-grade + readings"}

TRACK_MARKS = ("start", "first_reading", "probe_hit")
RUN_SETTINGS = {
    "readings": RunSettings(),
    "track": RunSettings(recorder=RecorderSettings(marks=TRACK_MARKS), readings=ReadingSettings(kind="none")),
    # A survey-grade receiver loses fixes, but does not throw single ones 5 to 20 m off.
    "survey": RunSettings(recorder=RecorderSettings(kind="survey", spikes_per_minute=0.0)),
}
HONEST = DrillSettings()
"""Stated positions are off by what the drill file says (0.2 m on each axis): what the engine assumes."""
TAPED = DrillSettings(position_error_m=0.0)
"""Stated positions are exact: the error of the path is then not mixed with that of the tape."""
FAR_OFF = DrillSettings(position_sigma_m=2.5)
WIDE = DrillSettings(area_width_m=120.0, near_strip_m=5.0)
"""A strip is only missed, or walked twice for nothing, where the others do not hear its transmitter."""
LARGE = DrillSettings(area_width_m=160.0, area_length_m=160.0)
"""A run of minutes, of which a fix every 11 to 30 s is still a track."""

NOISES: Mapping[str, tuple[NoiseModel | None, float]] = {
    "two-part": (None, 1.0),
    "markov": (MarkovNoise(), 1.0),
    "white": (WhiteNoise(sigma_m=2.0), 1.0),
    "double": (None, 2.0),
    "half": (None, 0.5),
}
"""Name -> model of the position error (None: the one the engine assumes) and a factor on it."""
NOISE_WORDS = {
    "two-part": "two parts, as assumed",
    "markov": "one Markov part, 2.5 m over 120 s",
    "white": "white, 2 m",
    "double": "two parts, twice as large",
    "half": "two parts, half as large",
}

EXAMINER = "examiner"
HALF, THIRD = 0.5, 1.0 / 3.0
OF_STRIPS = tuple(f for f in FAULTS if PHASES[f] == ("signal_search",))
OTHERS = tuple(f for f in FAULTS if f not in ("wrong_way", "standing"))
OF_A_TRACK = tuple(f for f in OTHERS if PHASES[f][0] in ("signal_search", "coarse_search"))
"""Faults that a track alone can show."""


@dataclass(frozen=True, slots=True)
class Block:
    """Runs of one kind.

    `faults`: those that the runs take in turn, () for none. `noises`: real errors that the runs take in turn, () for
    those of the settings. `kind`: where the examiner makes the runs, the kind that it is asked for; drill and run do
    not count then. `sparse`: the track is thinned to a fix every 11 to 30 s. `times`: how many runs there are for each
    run asked for; under 1 where little hangs on it. `whole`: account and findings are looked at as well.
    """

    key: str
    column: str
    drill: DrillSettings
    run: RunSettings
    faults: tuple[str, ...] = ()
    noises: tuple[SeriesNoise, ...] = ()
    kind: str = ""
    times: float = 1.0
    whole: bool = True
    sparse: bool = False

    def runs(self, asked: int) -> int:
        """Return how many runs of this kind there are where so many of each kind are asked for."""
        return max(1, round(self.times * asked))


def with_noise(settings: RunSettings, noise: NoiseModel | None, scale: float = 1.0) -> RunSettings:
    """Return the settings with another position error."""
    return replace(settings, recorder=replace(settings.recorder, noise=noise, noise_scale=scale))


def blocks_of(*, phones: Mapping[str, Sequence[SeriesNoise]], noises: Sequence[str]) -> tuple[Block, ...]:
    """Return the blocks of the table.

    Parameters
    ----------
    phones : mapping of str to sequence of SeriesNoise
        Errors of real phones by kind of fix; empty where there are none at hand.
    noises : sequence of str
        Keys of NOISES, for the rows on noise that the engine does not assume.
    """
    own = (*_by_column(), *_variants(), *_of_phones(phones), *_by_fault(), *_by_noise(noises), *_receivers())
    return (*own, *_sparse(), *_of_examiner())


def _by_column() -> Iterator[Block]:
    for column in COLUMNS:
        run = RUN_SETTINGS[column]
        yield Block(f"taped/{column}", column, TAPED, run, whole=False)
        yield Block(f"plain/{column}", column, HONEST, run)
        yield Block(f"wrong_way/{column}", column, HONEST, run, ("wrong_way",))
        yield Block(f"standing/{column}", column, HONEST, run, ("standing",))


def _variants() -> Iterator[Block]:
    yield Block(
        "axis/readings", "readings", replace(TAPED, axis_given=False), RUN_SETTINGS["readings"], times=HALF, whole=False
    )
    for column in ("readings", "survey"):
        yield Block(f"off/{column}", column, FAR_OFF, RUN_SETTINGS[column], times=HALF, whole=False)
    track = RUN_SETTINGS["track"]
    bare = replace(track, recorder=replace(track.recorder, marks=("start", "probe_hit")))
    yield Block("unmarked/track", "track", HONEST, bare, times=THIRD, whole=False)


def _of_phones(phones: Mapping[str, Sequence[SeriesNoise]]) -> Iterator[Block]:
    for kind, pieces in phones.items():
        for column in ("readings", "track"):
            run = RUN_SETTINGS[column]
            # The errors are those that were made: no further jumps and gaps.
            clean = replace(run, recorder=replace(run.recorder, spikes_per_minute=0.0, gaps_per_minute=0.0))
            yield Block(f"phone/{kind}/{column}", column, TAPED, clean, noises=tuple(pieces), times=HALF, whole=False)


def _by_fault() -> Iterator[Block]:
    for fault in OTHERS:
        drill = WIDE if fault in OF_STRIPS else HONEST
        yield Block(f"{fault}/readings", "readings", drill, RUN_SETTINGS["readings"], (fault,))
    # On the other columns the faults take turns: what counts is all of them together.
    for column, faults, times in (("track", OF_A_TRACK, HALF), ("survey", OTHERS, 1.0)):
        run = RUN_SETTINGS[column]
        yield Block(f"strips/{column}", column, WIDE, run, OF_STRIPS, times=HALF)
        yield Block(f"faults/{column}", column, HONEST, run, _but(faults, OF_STRIPS), times=times)


def _receivers() -> Iterator[Block]:
    run = RUN_SETTINGS["readings"]
    by_hand = replace(run.readings, kind="by_hand", whole_seconds=True)
    yield Block("by_hand/readings", "readings", HONEST, replace(run, readings=by_hand), times=THIRD)
    yield Block("three/readings", "readings", replace(HONEST, transmitters=3), run, times=THIRD)
    for word, antennas in (("two_antennas", 2), ("one_antenna", 1)):
        other = replace(run, searcher=replace(run.searcher, antennas=antennas))
        yield Block(f"{word}/readings", "readings", HONEST, other, times=THIRD)


def _sparse() -> Iterator[Block]:
    for column in COLUMNS[:2]:
        yield Block(f"sparse/{column}", column, LARGE, RUN_SETTINGS[column], times=HALF, whole=False, sparse=True)


def _of_examiner() -> Iterator[Block]:
    """Yield the examiner's runs: its faults take turns."""
    for column in COLUMNS:
        yield _asked("plain", column, times=1.0 if column == "readings" else HALF)
        yield _asked("wrong_way", column, ("wrong_way",), times=THIRD)
        yield _asked("standing", column, ("standing",), times=THIRD)
    yield _asked("faults", "readings", OTHERS, times=2.0)
    yield _asked("faults", "track", OF_A_TRACK, times=HALF)
    yield _asked("faults", "survey", OTHERS, times=1.0)
    for column, kind in zip(COLUMNS, ("three", "three_track"), strict=False):  # its runs for one transmitter are short
        yield replace(_asked("sparse", column, kind=kind, times=HALF, whole=False), sparse=True)
    for kind in ("axis", "by_hand", "three", "two_antennas", "one_antenna"):
        yield _asked(kind, "readings", kind=kind, times=THIRD, whole=kind != "axis")


def _asked(
    word: str, column: str, faults: tuple[str, ...] = (), *, kind: str = "", times: float = 1.0, whole: bool = True
) -> Block:
    key = f"{EXAMINER}/{word}/{column}"
    return Block(key, column, HONEST, RUN_SETTINGS[column], faults, kind=kind or column, times=times, whole=whole)


def _but(faults: Sequence[str], left_out: Sequence[str]) -> tuple[str, ...]:
    return tuple(f for f in faults if f not in left_out)


def _by_noise(noises: Sequence[str]) -> Iterator[Block]:
    for name in noises:
        for column in ("readings", "track"):
            run = with_noise(RUN_SETTINGS[column], *NOISES[name])
            yield Block(f"noise/{name}/{column}", column, HONEST, run, times=THIRD, whole=False)
