"""The words that the documentation promises are words that are read."""

import re
from pathlib import Path

from analyzer.files.log_words import COLUMN_WORDS, DATE, MOMENT, column_of, mark_of
from analyzer.files.readings_csv import parse_readings_csv

TEXT = (Path(__file__).resolve().parents[3] / "docs" / "file_formats.md").read_text(encoding="utf-8")
SECTION = TEXT.partition("## Readings and marks, as people keep them")[2].partition("\n## ")[0]


def test_every_name_of_a_column_is_read():
    rows = re.findall(r"^\| `(\w+)` \| (.*) \|$", SECTION, re.MULTILINE)
    assert {key for key, _ in rows} == set(COLUMN_WORDS) - {MOMENT, DATE, "clock", "steer_deg", "heading_deg"}
    for key, words in rows:
        own, _, dates = words.partition("; beside a column ")
        for word in re.split(r"[,;] ", own):
            assert column_of(word)[0] == key, word
        assert all(column_of(word)[0] == DATE for word in dates.split(", ") if word)


def test_every_name_of_a_mark_is_read():
    words = SECTION.partition("as Erste")[2].partition(".")[0]
    assert all(mark_of(word) for word in re.split(r"[,;]\s", f"Erste{words}"))


def test_the_example_is_read():
    example = SECTION.partition("```\n")[2].partition("```")[0]
    assert [(r.time_s, r.reading_m) for r in parse_readings_csv(example.encode()).readings] == [
        (35, 38), (64, 31.5), (364, 3.1)]  # fmt: skip
