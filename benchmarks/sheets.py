"""How long the Load page's recogniser looks at a dropped table: `python -m benchmarks.sheets`.

A log of a run has a hundred rows; the others show how it grows. Seconds of the processor, the least of a few.
"""

import time

from analyzer.workspace.intake.recognise import recognise
from tests.support.sheets import ods, xlsx

ROWS = (100, 1000, 10_000)
REPEATS = 3


def main() -> None:
    """Print one line a file."""
    for count in ROWS:
        rows = [["elapsed (s)", "Anzeige (m)", "Pfeil"], *([i, 1 + i % 40, "links"] for i in range(count))]
        text = "\n".join(";".join(map(str, row)) for row in rows).encode()
        for ending, data in ((".csv", text), (".xlsx", xlsx({"a": rows})), (".ods", ods({"a": rows}))):
            took = []
            for _ in range(REPEATS):
                began = time.process_time()
                found = recognise(data, name=f"log{ending}")
                took.append(time.process_time() - began)
            print(f"{count:>6} rows {ending:<6} {found.kind} {found.rows:>6} {min(took):.3f} s")


if __name__ == "__main__":
    main()
