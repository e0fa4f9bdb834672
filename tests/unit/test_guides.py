"""The guides: their pictures are those that one command makes, and each says what the tool is not for."""

import re
from pathlib import Path

import pytest

from dashboard.wording import SAFETY

ROOT = Path(__file__).resolve().parents[2]
GUIDES = sorted((ROOT / "docs" / "guide").glob("*.md"))
MADE = re.compile(r'Shot\(\s*"(\w+)"|"(sheet)\.png"')


def made():
    source = (ROOT / "tests" / "support" / "pictures.py").read_text(encoding="utf-8")
    return {name for found in MADE.findall(source) for name in found if name}


def test_there_is_a_guide_for_each_user():
    assert [guide.stem for guide in GUIDES] == ["coach", "organiser", "searcher"]
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    assert all(f"docs/guide/{guide.name}" in readme for guide in GUIDES)


@pytest.mark.parametrize("guide", GUIDES, ids=lambda guide: guide.stem)
def test_its_pictures_are_made_by_the_command_and_are_there(guide):
    shown = re.findall(r"!\[[^\]]+\]\(\.\./pictures/(\w+)\.png\)", guide.read_text(encoding="utf-8"))
    assert shown
    assert set(shown) <= made()
    assert all((ROOT / "docs" / "pictures" / f"{name}.png").is_file() for name in shown)


def test_no_picture_lies_about_unused():
    used = {name for guide in GUIDES for name in re.findall(r"(\w+)\.png", guide.read_text(encoding="utf-8"))}
    used |= set(re.findall(r"(\w+)\.png", (ROOT / "README.md").read_text(encoding="utf-8")))
    there = {path.stem for path in (ROOT / "docs" / "pictures").glob("*.png")}
    assert there == used


@pytest.mark.parametrize("guide", GUIDES, ids=lambda guide: guide.stem)
def test_it_says_what_the_tool_is_not_for(guide):
    text = " ".join(guide.read_text(encoding="utf-8").split())
    assert "A training aid, never for a real rescue" in text
    assert "20 cm" in text
    assert "50 cm" in text
    assert "Practise on safe ground" in text
    assert SAFETY[0].startswith("A training aid")
