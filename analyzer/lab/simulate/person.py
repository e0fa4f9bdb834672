"""One searcher as drawn for a run: paces, steadiness, habits."""

from dataclasses import dataclass

import numpy as np

from analyzer.lab.simulate.motion import Sway
from analyzer.lab.simulate.settings import SearcherSettings


@dataclass(frozen=True, slots=True, eq=False)
class Person:
    """The drawn values of `SearcherSettings`. `short_stops`: readings (m) at which a pause under 0.8 s happens."""

    settings: SearcherSettings
    sway: Sway
    signal_pace_mps: float
    far_pace_mps: float
    near_pace_mps: float
    bracket_pace_mps: float
    steering_rad: float
    rise_m: float
    probing_s: float
    next_shown_s: float
    short_stops: tuple[float, ...]

    def carry_at(self, beat: int) -> float:
        """Return the receiver's height while carried, m."""
        return self.settings.carry_height_m + self.settings.height_wobble_m * self.sway.at("height", beat)

    def fine_at(self, beat: int) -> float:
        """Return the receiver's height in the fine search, m; never under the snow."""
        wobble = self.settings.height_wobble_m * self.sway.at("height", beat)
        return max(0.02, self.settings.fine_height_m + wobble)

    def pace_at(self, reading: float, beat: int) -> float:
        """Return the coarse-search pace in m/s: the near pace at the fine-search radius, the far pace from 15 m on."""
        share = (reading - self.settings.fine_radius_m) / (15.0 - self.settings.fine_radius_m)
        pace = self.near_pace_mps + (self.far_pace_mps - self.near_pace_mps) * min(max(share, 0.0), 1.0)
        return pace * (1.0 + 0.08 * self.sway.at("pace", beat))


def drawn_person(settings: SearcherSettings, sway: Sway, rng: np.random.Generator) -> Person:
    """Return a searcher with every range of the settings drawn."""

    def draw(bounds: tuple[float, float]) -> float:
        return float(rng.uniform(*bounds))

    stops = tuple(draw((6.0, 25.0)) for _ in range(int(rng.integers(0, 3))))
    return Person(
        settings=settings,
        sway=sway,
        signal_pace_mps=draw(settings.signal_pace_mps),
        far_pace_mps=draw(settings.far_pace_mps),
        near_pace_mps=draw(settings.near_pace_mps),
        bracket_pace_mps=draw(settings.bracket_pace_mps),
        steering_rad=draw(settings.steering_rad),
        rise_m=draw(settings.rise_m),
        probing_s=draw(settings.probing_s),
        next_shown_s=draw((0.5, 1.5)),
        short_stops=stops,
    )
