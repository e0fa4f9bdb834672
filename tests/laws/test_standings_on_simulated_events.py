"""Standings of a simulated event against its truth: what is proposed, what counts, who is clearly apart, places in
their ranges. The full measurement: `python -m analyzer.lab.evaluate.events`."""

import numpy as np
import pytest

from analyzer.files.rules_toml import default_rules
from analyzer.lab.evaluate.events.counts import Tally, proposals_of, standings_of, tally, without_log
from analyzer.lab.evaluate.events.known import close_times, examined_event, marked, simulated_event, true_totals


@pytest.fixture(scope="module", params=[simulated_event, examined_event], ids=["first simulator", "second simulator"])
def known(request):
    return request.param(41, default_rules(), entries=4, draws=32)


def test_no_finding_adds_a_second_and_what_is_proposed_is_likely(known):
    found = list(proposals_of(known))
    assert found
    assert known.failed == 0
    assert not any(counted for *_, counted in found)
    assert min(p for _, p, _, _ in found) >= 0.9
    for table in standings_of(known.event, {k: r.facts for k, r in known.runs.items()}).values():
        for place in table.places:
            assert {line.rule for line in place.score.lines} <= {"time", "overall"}


def test_the_same_run_without_its_log_has_the_same_total(known):
    """Less evidence never looks better."""
    found = list(without_log(known))
    assert len(found) == 2
    assert all(whole == bare for whole, bare in found)


def test_pairs_clearly_apart_are_in_order_and_places_in_their_ranges(known):
    """A close finish, marks with the errors that the sheet states; of many, so that chance hides no wrong interval."""
    times, counts, rng = close_times(known), Tally(), np.random.default_rng(5)
    for _ in range(60):
        tally(standings_of(known.event, marked(known, times, 0.5, rng)), true_totals(known, times), 1.0, counts)
    assert counts.clear > 500
    assert counts.wrong <= 0.05 * counts.clear
    assert counts.held >= 0.88 * counts.places  # 90 %, less what 720 places scatter
    worse = Tally()
    for _ in range(60):
        tally(standings_of(known.event, marked(known, times, 3.0, rng)), true_totals(known, times), 1.0, worse)
    assert worse.held < 0.88 * worse.places  # marks six times as bad as stated are noticed
