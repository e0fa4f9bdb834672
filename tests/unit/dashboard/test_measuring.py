"""Measuring that goes on beside the pages: passes that are asked for one after another, and end in any order."""

from dashboard.services.measuring import Measuring


class Intake:
    """Stands in for the door to the workspace: each pass does what it is told to do while it measures."""

    def __init__(self):
        self.during = []

    def measure(self, drill, told):
        told("mara-1")
        lines, then = self.during.pop(0)
        then()
        return lines

    def run_count(self, drill):
        return 1


def test_a_pass_that_was_overtaken_by_a_later_one_leaves_nothing_waiting(monkeypatch):
    monkeypatch.setattr("dashboard.services.measuring.threading.Thread.start", lambda self: None)
    intake = Intake()
    measuring = Measuring(intake)
    measuring.start("bowl")

    def overtaken():
        measuring.start("bowl")  # asked for again, and that pass has its turn first
        intake.during.append((("as it is now",), lambda: None))
        measuring.work(["bowl"])
        assert not measuring.busy("bowl")

    intake.during = [(("as it was",), overtaken)]
    measuring.work(["bowl"])
    assert not measuring.busy("bowl")
    assert measuring.progress("bowl").failures == ("as it is now",)


def test_what_was_asked_for_while_it_was_measured_still_waits(monkeypatch):
    monkeypatch.setattr("dashboard.services.measuring.threading.Thread.start", lambda self: None)
    intake = Intake()
    measuring = Measuring(intake)
    measuring.start("bowl")
    intake.during = [((), lambda: measuring.start("bowl")), ((), lambda: None)]
    measuring.work(["bowl"])
    assert measuring.busy("bowl")
    measuring.work(["bowl"])
    assert not measuring.busy("bowl")
