"""A short, seeded part of `python -m tests.attacks.phone_bytes`."""

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


def test_damaged_requests_make_the_pages_for_phones_fail_in_no_way():
    command = [sys.executable, "-m", "tests.attacks.phone_bytes", "--requests", "150", "--seed", "457"]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "150 requests, 0 failures" in done.stdout
