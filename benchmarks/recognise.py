"""How long files take to be recognised on Load: `python -m benchmarks.recognise [--records 13000]`.

Invented recordings of one fix a second, as GPX, CSV (with an export's many columns) and FIT; each is recognised five
times, and the middle time of the processor told. The first use of a library, which it loads, is told by itself.
"""

import argparse
import statistics
import struct
import time

from analyzer.workspace.intake.model import TRACK
from analyzer.workspace.intake.recognise import recognise
from tests.attacks.samples import FIT_FIRST, fit_file

TIMES = 5


def gpx(count: int) -> bytes:
    """Return a track of `count` points with time, height and HDOP."""
    points = "".join(
        f'<trkpt lat="46.{100_000 + i}" lon="7.{200_000 + i}"><ele>{1000 + i % 50}</ele><time>{_clock(i)}</time>'
        "<hdop>0.9</hdop></trkpt>"
        for i in range(count)
    )
    head = '<gpx version="1.1" creator="invented" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>'
    return f"{head}{points}</trkseg></trk></gpx>".encode()


def csv(count: int) -> bytes:
    """Return a table of `count` rows and fourteen columns."""
    head = "time,type,latitude,longitude,altitude,accuracy,vertical,speed,gain,loss,distance,pulse,cadence,power"
    rows = (f"{_clock(i)},POINT,46.{100_000 + i},7.{200_000 + i},1020.2,10,,54,1,1,,70,," for i in range(count))
    return "\n".join([head, *rows]).encode()


def fit(count: int) -> bytes:
    """Return a recording of `count` records with time, place, accuracy, height, pulse and cadence."""
    fields = [(253, 4, 0x86), (0, 4, 0x85), (1, 4, 0x85), (31, 1, 0x02), (2, 2, 0x84), (3, 1, 0x02), (4, 1, 0x02)]
    body = struct.pack("<BBBHB", 0x40, 0, 0, 20, len(fields)) + b"".join(bytes(f) for f in fields)
    rows = ((FIT_FIRST + i, 548_800_000 + 100 * i, 83_500_000, 4, 3000, 120, 80) for i in range(count))
    return fit_file(body + b"".join(b"\x00" + struct.pack("<IiiBHBB", *row) for row in rows))


def _clock(second: int) -> str:
    return f"2026-01-17T{9 + second // 3600:02d}:{second // 60 % 60:02d}:{second % 60:02d}Z"


def main() -> None:
    """Print the seconds of each kind."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--records", type=int, default=13_000)
    count = parser.parse_args().records
    for kind, make in (("GPX", gpx), ("CSV", csv), ("FIT", fit)):
        data = make(count)
        seconds = []
        for _ in range(TIMES + 1):
            began = time.process_time()
            found = recognise(data, name=f"track.{kind.lower()}")
            seconds.append(time.process_time() - began)
            if found.kind != TRACK or found.problem or found.rows != count:
                raise SystemExit(f"{kind} was not recognised: {found}")
        usual = statistics.median(seconds[1:])
        print(f"{kind}: {count} records, {len(data) / 1e6:.2f} MB, {usual:.2f} s (first {seconds[0]:.2f} s)")


if __name__ == "__main__":
    main()
