"""Which runs are simulated for the accuracy table: blocks of runs that differ in their seeds alone.

Run i of every block has the same seed, so blocks differ in what they are about and not in the luck of the draw.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from analyzer.lab.simulate import FAULTS, DrillSettings, ReadingSettings, RecorderSettings, RunSettings
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
"""A strip can only be missed where the others do not hear its transmitter."""

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


@dataclass(frozen=True, slots=True)
class Block:
    """Runs of one kind. `noises`: real errors that the runs take in turn, none for those of the settings."""

    key: str
    column: str
    drill: DrillSettings
    run: RunSettings
    fault: str | None = None
    noises: tuple[SeriesNoise, ...] = ()


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
    return (*_by_column(), *_variants(), *_of_phones(phones), *_by_fault(), *_by_noise(noises))


def _by_column() -> Iterator[Block]:
    for column in COLUMNS:
        run = RUN_SETTINGS[column]
        yield Block(f"taped/{column}", column, TAPED, run)
        yield Block(f"plain/{column}", column, HONEST, run)
        yield Block(f"wrong_way/{column}", column, HONEST, run, "wrong_way")
        yield Block(f"standing/{column}", column, HONEST, run, "standing")


def _variants() -> Iterator[Block]:
    yield Block("axis/readings", "readings", replace(TAPED, axis_given=False), RUN_SETTINGS["readings"])
    for column in ("readings", "survey"):
        yield Block(f"off/{column}", column, FAR_OFF, RUN_SETTINGS[column])
    track = RUN_SETTINGS["track"]
    bare = replace(track, recorder=replace(track.recorder, marks=("start", "probe_hit")))
    yield Block("unmarked/track", "track", HONEST, bare)


def _of_phones(phones: Mapping[str, Sequence[SeriesNoise]]) -> Iterator[Block]:
    for kind, pieces in phones.items():
        for column in ("readings", "track"):
            run = RUN_SETTINGS[column]
            # The errors are those that were made: no further jumps and gaps.
            clean = replace(run, recorder=replace(run.recorder, spikes_per_minute=0.0, gaps_per_minute=0.0))
            yield Block(f"phone/{kind}/{column}", column, TAPED, clean, noises=tuple(pieces))


def _by_fault() -> Iterator[Block]:
    for fault in FAULTS:
        drill = WIDE if fault == "missed_strip" else HONEST
        if fault not in ("wrong_way", "standing"):
            yield Block(f"{fault}/readings", "readings", drill, RUN_SETTINGS["readings"], fault)


def _by_noise(noises: Sequence[str]) -> Iterator[Block]:
    for name in noises:
        for column in ("readings", "track"):
            run = with_noise(RUN_SETTINGS[column], *NOISES[name])
            yield Block(f"noise/{name}/{column}", column, HONEST, run)
