"""The coach's decisions on findings: each is of one finding, whatever its transmitter is called."""

from dataclasses import replace

from analyzer.model.recording import RunWords
from dashboard.view_models.coach import other_words, reasons_of, with_reasons


def test_a_decision_is_of_one_finding_where_the_name_of_another_transmitter_begins_alike(result):
    first = result.findings[0]
    findings = tuple(replace(first, id=name) for name in ("wrong_way:A", "wrong_way:A:2"))
    words = RunWords(set_aside=("wrong_way:A:2: fell", "late for the bus"))
    assert reasons_of(words, findings) == {"wrong_way:A:2": "fell"}
    assert other_words(words, findings) == ("late for the bus",)
    again = with_reasons(words, findings, {"wrong_way:A": "a call", "wrong_way:A:2": "fell"})
    assert reasons_of(RunWords(set_aside=again), findings) == {"wrong_way:A": "a call", "wrong_way:A:2": "fell"}
