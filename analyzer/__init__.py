"""Searchwake's engine: drill folders in, measured and accounted search runs out.

`import analyzer` stays light: the heavy libraries load with the stage that needs them.
The notebook entry points are in `analyzer.api`.
"""

__version__ = "0.2.0"
