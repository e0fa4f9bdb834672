"""What a simulated drill, searcher, recorder and receiver are like. Ranges are (low, high), drawn evenly.

The paces, pauses and widths are common practice, no source; the position noise is that of `noise_models`.
"""

from dataclasses import dataclass, field

from analyzer.lab.simulate.noise_models import NoiseModel

Range = tuple[float, float]


@dataclass(frozen=True, slots=True)
class DrillSettings:
    """How a drill is laid out. None: drawn.

    `position_sigma_m` is what the drill states; `position_error_m` is the standard deviation (one axis) of the error
    really made, None for the same. Withheld axes (`axis_given` False) stay known to the truth.
    """

    name: str = "simulated drill"
    transmitters: int = 1
    slope_deg: float | None = None
    aspect_deg: float | None = None
    area_width_m: float = 80.0
    area_length_m: float = 100.0
    strip_width_m: float = 40.0
    depth_m: Range = (0.6, 1.4)
    spacing_m: Range = (8.0, 28.0)
    tilt_at_most_deg: float = 60.0
    near_strip_m: float | None = None
    """Greatest distance of the first transmitter from the middle of a search strip; None: anywhere."""
    axis_given: bool = True
    position_sigma_m: float = 0.2
    position_error_m: float | None = None
    latitude: float = 46.5
    longitude: float = 8.0
    elevation_m: float = 2100.0


@dataclass(frozen=True, slots=True)
class SearcherSettings:
    """How a searcher moves, and the receiver carried. One value of each range is drawn per run."""

    antennas: int = 3
    carry_height_m: float = 1.0
    fine_height_m: float = 0.1
    reception_m: Range = (27.0, 45.0)
    signal_pace_mps: Range = (1.15, 1.5)
    far_pace_mps: Range = (1.1, 1.5)
    near_pace_mps: Range = (0.42, 0.58)
    bracket_pace_mps: Range = (0.15, 0.35)
    steering_rad: Range = (0.03, 0.07)
    turn_pause_s: Range = (0.5, 1.5)
    rise_m: Range = (0.3, 0.7)
    probing_s: Range = (10.0, 25.0)
    height_wobble_m: float = 0.03
    fine_radius_m: float = 3.0
    hold_s: float = 0.0
    """Time to stand over the last transmitter after its probe hit, with hold marks that tell where."""


@dataclass(frozen=True, slots=True)
class RecorderSettings:
    """What records the track. `kind`: phone | watch | survey.

    `noise` None: the two-part model with its slow part drawn (survey: white). `noise_scale` multiplies the error.
    `decimals`: of the degrees stored (survey-grade: of the metres).
    """

    kind: str = "phone"
    noise: NoiseModel | None = None
    noise_scale: float = 1.0
    decimals: int | None = None
    spikes_per_minute: float = 0.1
    gaps_per_minute: float = 0.03
    before_start_s: Range = (3.0, 10.0)
    marks: tuple[str, ...] = ("start", "probe_hit", "finish", "hold_begin", "hold_end")
    mark_delay_s: Range = (0.0, 0.8)


@dataclass(frozen=True, slots=True)
class ReadingSettings:
    """How readings are logged. `kind`: logged | by_hand (sparse, elapsed times) | none.

    `scale` None: 1.0 to 1.26 (calibrated broadside to coaxial) times a log-normal factor of 5 %.
    `steps`: (from reading, step) of the display. `clock_offset_s`: added to a reading time it gives track time.
    `labelled` None: readings carry the transmitter's id where there are several.
    """

    kind: str = "logged"
    scale: float | None = None
    relative_noise: float = 0.035
    noise_m: float = 0.05
    lag_s: float = 0.0
    steps: tuple[tuple[float, float], ...] = ((0.0, 0.1), (10.0, 0.5), (20.0, 1.0))
    interval_s: float = 1.0
    jitter_s: float = 0.15
    by_hand_interval_s: Range = (2.0, 6.0)
    whole_seconds: bool = False
    """By hand: times are those of a counter that shows whole seconds."""
    dropout: float = 0.03
    outlier: float = 0.01
    clock_offset_s: Range = (-30.0, 30.0)
    directions: bool = False
    labelled: bool | None = None


@dataclass(frozen=True, slots=True)
class RunSettings:
    """Everything about one run but the drill, the fault and the seed."""

    searcher: SearcherSettings = field(default_factory=SearcherSettings)
    recorder: RecorderSettings = field(default_factory=RecorderSettings)
    readings: ReadingSettings = field(default_factory=ReadingSettings)
