"""A real `searchwake serve` of its own process over a workspace."""

import contextlib
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path


@contextlib.contextmanager
def served(workspace: Path) -> Iterator[tuple[str, int]]:
    """Serve a workspace and give its address and the number of its process; it is stopped at the end."""
    command = [sys.executable, "-m", "analyzer.cli", "serve", str(workspace), "--no-browser", "--port", "18900"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True) as process:
        try:
            yield _address(process), process.pid
        finally:
            process.terminate()


def _address(process: "subprocess.Popen[str]") -> str:
    for line in process.stdout or ():
        found = re.search(r"http://127\.0\.0\.1:\d+", line)
        if found:
            return found.group()
    raise SystemExit("searchwake serve ended before it served")
