"""The project's own errors. Each says where, what is wrong and what to do, in one line."""


class AnalyzerError(ValueError):
    """Base of all errors that a user can mend.

    Parameters
    ----------
    where : str
        File, and line or point number where there is one ("track.gpx, point 12").
    what : str
        What is wrong, with the value received.
    do : str
        What the user can do about it.
    """

    def __init__(self, *, where: str, what: str, do: str) -> None:
        super().__init__(where, what, do)
        self.where = where
        self.what = what
        self.do = do

    def __str__(self) -> str:
        """Return the one line that is shown."""
        return f"{self.where}: {self.what}; {self.do}"

    def __reduce__(self) -> tuple[object, ...]:
        """Pickle by keywords, so that the error crosses process borders."""
        return (_rebuild, (type(self), self.where, self.what, self.do))


def _rebuild(kind: type[AnalyzerError], where: str, what: str, do: str) -> AnalyzerError:
    return kind(where=where, what=what, do=do)


class InputError(AnalyzerError):
    """A file, a table row or a setting that cannot be used as it is."""


class EstimationError(AnalyzerError):
    """A run whose evidence does not determine a path."""
