"""What is followed over a season: the entries of the table of measures that have words for their change."""

from analyzer.model.measures import FOLLOWED
from analyzer.seasons.model import SeasonMeasure

MEASURES = tuple(
    SeasonMeasure(m.key, m.title, m.unit, m.better, f.falls, f.rises, f.good, f.head, f.narrow, m.percent, f.of)
    for m, f in FOLLOWED
)
"""In the order of the pages."""
