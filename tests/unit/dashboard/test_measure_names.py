"""The pages name what results carry, and nothing else."""

from pathlib import Path

from analyzer.api import analyze
from dashboard.wording import MEASURES

SAMPLES = Path(__file__).resolve().parents[3] / "sample_tracks"


def test_every_measure_with_a_name_is_in_a_result():
    """2026-11-26: three measures had names that no result carries."""
    carried = {
        (group, name)
        for result in analyze(SAMPLES / "long_gully")
        for search in result.searches
        for group in MEASURES
        for name, _ in getattr(search, group)
    }
    named = {(group, key) for group, keys in MEASURES.items() for key in keys}
    assert named <= carried
