"""Who the people of a workspace are, as pages offer them to be chosen."""

from pathlib import Path

from analyzer.errors import AnalyzerError
from analyzer.workspace.people.people_toml import read_people


def people_of(workspace: Path) -> tuple[tuple[tuple[str, bool], ...], tuple[str, ...]]:
    """Return names of people.toml, each with whether they agreed to be named, and a line where it cannot be read."""
    try:
        return tuple((p.name, p.consent) for p in read_people(workspace).persons), ()
    except AnalyzerError as error:
        return (), (str(error),)
