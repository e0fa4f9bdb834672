"""The cells of one row of a table of positions: place, accuracy, elevation."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from analyzer.errors import InputError, quoted
from analyzer.files.cells import CellRow, CellTable, text_of
from analyzer.files.table import number_with_comma
from analyzer.files.tracks import column_names as of
from analyzer.files.tracks.column_names import Columns
from analyzer.files.tracks.place_cells import degrees_in, turned
from analyzer.files.tracks.point_rows import NAN, sigma_of_axes, sigma_of_radius


@dataclass(frozen=True, slots=True)
class TrackRow:
    """A row of the table: its number there, and its cells as text."""

    number: int
    cells: Sequence[str]


@dataclass(frozen=True, slots=True)
class TrackCells:
    """Reads the cells of rows of one table."""

    table: CellTable
    columns: Columns

    def text(self, row: TrackRow, meaning: str) -> str:
        """Return the text of a cell, "" where there is none."""
        column = self.columns.at.get(meaning, -1)
        return row.cells[column] if 0 <= column < len(row.cells) else ""

    def where(self, row: TrackRow) -> str:
        """Return where a row is."""
        return self.table.where(row.number)

    def wrong_length(self, row: CellRow) -> InputError | None:
        """Return what is wrong with how many cells a row has: more with anything in them, or so few that the last one
        that is read may be cut off."""
        count = len(self.columns.names)
        if len(row.cells) == count:
            return None
        extra = any(text_of(cell) for cell in row.cells[count:])
        if not extra and (len(row.cells) > count or len(row.cells) > max(self.columns.at.values()) + 1):
            return None
        return InputError(
            where=self.table.where(row.number),
            what=f"the row has {len(row.cells)} cells, the header {count}",
            do="complete the row; write decimals with a point, not a comma",
        )

    def place(self, row: TrackRow) -> tuple[float, float] | None:
        """Return the coordinates of a row, None where it has none; of degrees also where one of them is empty.

        Raises
        ------
        InputError
            Where a cell is no coordinate.
        """
        if of.LATITUDE not in self.columns.at:
            if not self.text(row, of.EAST) and not self.text(row, of.NORTH):
                return None
            return self._number(row, of.EAST), self._number(row, of.NORTH)
        if not self.text(row, of.LATITUDE) or not self.text(row, of.LONGITUDE):
            return None
        return self._degrees(row, of.LATITUDE, of.NORTH_SOUTH, "NS"), self._degrees(
            row, of.LONGITUDE, of.EAST_WEST, "EW"
        )

    def _degrees(self, row: TrackRow, meaning: str, beside: str, letters: str) -> float:
        text = self.text(row, meaning)
        try:
            value = degrees_in(text, letters)
            if letter := self.text(row, beside):
                value = turned(value, letter, letters)
        except ValueError:
            raise self._no_number(row, meaning, "a number of degrees") from None
        if not math.isfinite(value):
            raise self._no_number(row, meaning, "a finite number")
        return value

    def optional(self, row: TrackRow) -> tuple[float, float, float]:
        """Return elevation, one-axis standard deviation (metres) and HDOP of a row, NaN where not stated.

        Raises
        ------
        InputError
            Where a cell is no number, or `sigma_m` is not above 0.
        """
        elevation_m, sigma_m, hdop = (self._or_nan(row, m) for m in (of.ELEVATION, of.SIGMA, of.HDOP))
        if sigma_m <= 0.0:
            raise InputError(
                where=self.where(row),
                what=f"sigma_m {sigma_m:g} is not above 0",
                do="leave the cell empty where the accuracy is not known",
            )
        return elevation_m, self._stated(row) if math.isnan(sigma_m) else sigma_m, hdop

    def _stated(self, row: TrackRow) -> float:
        """Return the one-axis standard deviation that other columns state, NaN where they do not."""
        axes = [self._or_nan(row, m) for m in (of.SIGMA_EAST, of.SIGMA_NORTH)]
        variances = [self._or_nan(row, m) for m in (of.VARIANCE_EAST, of.VARIANCE_NORTH)]
        for both in (axes, [math.sqrt(v) if v >= 0.0 else NAN for v in variances]):
            if not math.isnan(sum(both)):
                return sigma_of_axes(*both)
        return sigma_of_radius(self._or_nan(row, of.RADIUS))

    def _or_nan(self, row: TrackRow, meaning: str) -> float:
        return self._number(row, meaning, needed=False) if meaning in self.columns.at else NAN

    def _number(self, row: TrackRow, meaning: str, *, needed: bool = True) -> float:
        """Return the number in a cell; NaN where it is empty and not `needed`."""
        text = self.text(row, meaning)
        if not text and not needed:
            return NAN
        try:
            value = number_with_comma(text)
        except ValueError:
            raise self._no_number(row, meaning, "a number") from None
        if not (math.isfinite(value) or (not needed and math.isnan(value))):
            raise self._no_number(row, meaning, "a finite number")
        return value * self.columns.factor[meaning]

    def _no_number(self, row: TrackRow, meaning: str, wanted: str) -> InputError:
        text, column = self.text(row, meaning), self.columns.called(meaning)
        return InputError(
            where=self.where(row),
            what=f"{column} {quoted(text)} is not {wanted}" if text else f"{column} is empty",
            do="write a number, or remove the row",
        )
