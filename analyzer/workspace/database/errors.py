"""What a database complains of, in one line that says what to do."""

from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy.exc import DBAPIError, NoSuchTableError

from analyzer.errors import InputError

REBUILD = "move it away and run searchwake index again: no measurement is lost"

FAULTS = (
    (("locked", "lock timeout", "busy"), "another program holds the database locked",
     "wait for it or close it, then try again; nothing was changed"),
    (("readonly", "read-only"), "the database is read-only",
     "allow writing to the file and its folder, or name another place in SEARCHWAKE_DB; nothing was changed"),
    (("unable to open",), "the database cannot be opened",
     "check that its folder is there and may be written to, or name another place in SEARCHWAKE_DB"),
    (("not a database", "malformed", "corrupt", "no such table", "no such column", "undefinedtable",
      "undefinedcolumn"), "the database is damaged", REBUILD),
    (("full",), "there is no room left for the database", "make room and try again; nothing was changed"),
    (("disk i/o error",), "there is no room left on the disk of the database, or it does not answer",
     "make room and try again; measurements are in files and safe"),
)  # fmt: skip
"""Words of the database -> what is wrong, what to do. The first row that fits is taken."""


@contextmanager
def explained(where: str) -> Iterator[None]:
    """Turn what the database raises into an `InputError`; `where` names the database."""
    try:
        yield
    except NoSuchTableError as error:
        raise InputError(where=where, what=f"the database is damaged (no table {error})", do=REBUILD) from None
    except DBAPIError as error:
        words = f"{type(error.orig).__name__} {error.orig}"
        for signs, what, do in FAULTS:
            if any(sign in words.lower() for sign in signs):
                raise InputError(where=where, what=what, do=do) from None
        first = (str(error.orig).strip().splitlines() or ["no reason given"])[0]
        raise InputError(
            where=where,
            what=f"the database does not work ({first})",
            do="check that it runs and that SEARCHWAKE_DB names it; measurements are in files and safe",
        ) from None
