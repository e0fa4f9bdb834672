"""The README's commands and links: what it promises is there."""

import re
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
TEXT = (ROOT / "README.md").read_text(encoding="utf-8")


def test_links_lead_somewhere():
    targets = [t for t in re.findall(r"\]\(([^)#]+)\)", TEXT) if "://" not in t]
    assert len(targets) > 4
    assert [t for t in targets if not (ROOT / t).exists()] == []


def test_the_test_command_stands_after_its_marker():
    block = re.search(r"<!-- test-command -->\s*```sh\n(.+?)\n```", TEXT, re.DOTALL)
    assert block is not None
    assert "pytest" in block.group(1)


def test_commands_of_the_table_exist():
    names = set(re.findall(r"^\| `searchwake ([\w-]+)", TEXT, re.MULTILINE))
    assert names == {
        "analyze",
        "demo",
        "serve",
        "simulate",
        "evaluate",
        "standings",
        "verify",
        "index",
        "people",
        "rules",
        "check",
        "season",
        "pack",
        "range-check",
        "unpack",
    }
    words = [sys.executable, "-m", "analyzer.cli", "--help"]
    help_text = subprocess.run(words, capture_output=True, text=True, cwd=ROOT, check=True).stdout
    assert [name for name in names if name not in help_text] == []


def test_every_command_that_is_offered_is_told_and_loads():
    from analyzer.cli import COMMANDS

    assert set(COMMANDS) == set(re.findall(r"^\| `searchwake ([\w-]+)", TEXT, re.MULTILINE))
    for name in COMMANDS:  # a command whose module is missing would fail here
        words = [sys.executable, "-m", "analyzer.cli", name, "--help"]
        assert f"usage: searchwake {name}" in subprocess.run(words, capture_output=True, text=True, cwd=ROOT).stdout


def test_safety_words_are_there():
    for words in ("never for a real rescue", "20 cm", "50 cm", "safe ground", "qualified instructors"):
        assert words in " ".join(TEXT.replace(">", " ").split())
