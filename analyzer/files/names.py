"""Names of the files of a drill folder and of its run folders, once."""

DRILL_FILE = "drill.toml"
RUNS = "runs"
"""Sub-folder of a drill: a folder per run."""
READINGS_FILE = "readings.csv"
MARKS_FILE = "marks.csv"
RUN_FILE = "run.toml"
RUN_WORDS = ("note", "praised", "set_aside")
"""Keys of run.toml that no result depends on: the coach's words and decisions."""
TRUTH_FILE = "truth.json"
"""What a simulated run truly was; beside its recordings, never read with them."""
