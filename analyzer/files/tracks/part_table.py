"""One of several tracks of a recording as a table of its own, a `track.csv`."""

import csv
import io

import numpy as np

from analyzer.files.times import utc_text
from analyzer.files.tracks.fixes import Fixes, TrackPart
from analyzer.files.tracks.track import subset


def write_part(fixes: Fixes, part: TrackPart, remark: str, *, local: bool = False) -> bytes:
    """Return the fixes of one track as `track.csv`, `remark` in its first line; times to the millisecond. `local`: they
    bear no zone, as those of the file, which were read as if they were UTC."""
    own = subset(fixes, (fixes.time_s >= part.begin_s) & (fixes.time_s <= part.end_s))
    columns = {"elevation_m": own.elevation_m, "sigma_m": own.sigma_m, "hdop": own.hdop}
    stated = {key: values for key, values in columns.items() if np.any(np.isfinite(values))}
    stream = io.StringIO()
    stream.write(f"# {' '.join(remark.split())}\n")
    table = csv.writer(stream, lineterminator="\n")
    table.writerow(["time", "latitude", "longitude", *stated])
    for i, time_s in enumerate(own.time_s.tolist()):
        cells = [_text(float(values[i])) for values in stated.values()]
        moment = utc_text(time_s).removesuffix("Z") if local else utc_text(time_s)
        table.writerow([moment, _text(float(own.first[i])), _text(float(own.second[i])), *cells])
    return stream.getvalue().encode()


def _text(value: float) -> str:
    """Return a number with at most nine decimals, "" for none: a ten-millionth of a degree is a centimetre."""
    return f"{value:.9f}".rstrip("0").rstrip(".") if np.isfinite(value) else ""
