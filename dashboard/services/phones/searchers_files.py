"""Which files a searcher may hand in: evidence of the run. What is the coach's to say comes from the coach."""

import dataclasses

from analyzer.errors import InputError
from analyzer.workspace.intake.import_files import Recognise
from analyzer.workspace.intake.model import DRILL, RULES, RUN, WAYPOINTS
from analyzer.workspace.intake.recognised import Recognised
from dashboard.services.intake import Intake

OF_THE_COACH = {DRILL: "the file of a drill", RUN: "the file of a run's particulars", RULES: "a rule sheet"} | {
    WAYPOINTS: "a file of places"
}
"""Kinds that decide how a run is judged, or speak in the coach's name: notes, praise, findings set aside."""


def for_searchers(intake: Intake) -> Intake:
    """Return a way in for phones: it takes turns with the other one, and uses nothing that is the coach's to say."""
    return dataclasses.replace(intake, recognised_by=_OfSearchers(intake.recognised_by))


class _OfSearchers:
    def __init__(self, whole: Recognise) -> None:
        self._whole = whole

    def __call__(self, data: bytes, *, name: str) -> Recognised:
        """Return what a file is; see `recognise`."""
        found = self._whole(data, name=name)
        if found.kind not in OF_THE_COACH:
            return found
        what = f"this is {OF_THE_COACH[found.kind]}, and a phone hands in tracks, readings and marks"
        return dataclasses.replace(
            found, problem=str(InputError(where=name, what=what, do="give it to the coach where it is meant"))
        )
