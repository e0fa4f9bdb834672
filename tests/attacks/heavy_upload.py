"""A file that takes long to recognise, sent to a served dashboard: how long do pages take meanwhile?

`python -m tests.attacks.heavy_upload --megabytes 40`, or `--file PATH` for a hostile one.
"""

import argparse
import statistics
import sys
import tempfile
import threading
import time
import urllib.parse
import urllib.request
from pathlib import Path

from tests.attacks.served import served
from tests.attacks.slow_clients import asked_until
from tests.attacks.stored import make_workspace

TIME = "<time>2026-02-14T{:02d}:{:02d}:{:02d}.{:03d}Z</time>"
POINT = f'<trkpt lat="46.{{:06d}}" lon="7.{{:06d}}"><ele>1800.5</ele>{TIME}</trkpt>\n'
START, END = '<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>\n', "</trkseg></trk></gpx>\n"


def main() -> int:
    """Measure; return 1 where a page took a second or more."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--megabytes", type=float, default=40.0)
    parser.add_argument("--file", type=Path)
    arguments = parser.parse_args()
    data = arguments.file.read_bytes() if arguments.file else _track(int(1e6 * arguments.megabytes))
    with tempfile.TemporaryDirectory(prefix="searchwake-heavy-") as folder:
        workspace = make_workspace(Path(folder) / "week")
        with served(workspace) as (address, _):
            sending = threading.Thread(target=send, args=(address, "heavy.gpx", data))
            began = time.perf_counter()
            sending.start()
            took = list(asked_until(address, lambda: not sending.is_alive()))
            lasted = time.perf_counter() - began
    say = sys.stdout.write
    say(f"taking in {len(data) / 1e6:.2f} MB lasted {lasted:.1f} s; {len(took)} pages meanwhile: ")
    say(f"median {statistics.median(took):.3f} s, slowest {max(took):.3f} s\n")
    return 1 if max(took) >= 1.0 else 0


def send(address: str, name: str, data: bytes, batch: str = "AAAABBBBCCCC") -> str:
    """Send one file and return what is said of it."""
    query = urllib.parse.urlencode({"batch": batch, "name": name})
    request = urllib.request.Request(f"{address}/take-in?{query}", data, {"Content-Type": "application/octet-stream"})
    with urllib.request.urlopen(request, timeout=600.0) as answer:
        return str(answer.read().decode())


def _track(size: int) -> bytes:
    count = size // len(POINT.format(0, 0, 0, 0, 0, 0))
    rows = (POINT.format(i % 1000, i % 997, *_clock(i)) for i in range(count))
    return (START + "".join(rows) + END).encode()


def _clock(tenth: int) -> tuple[int, int, int, int]:
    seconds = tenth // 10
    return seconds // 3600 % 24, seconds // 60 % 60, seconds % 60, tenth % 10 * 100


if __name__ == "__main__":
    sys.exit(main())
