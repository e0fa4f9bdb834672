"""How good the evidence is: its tier, its accuracy, the clocks, and what was set aside."""

from dash import html
from dash.development.base_component import Component

from analyzer.model.figure import Figure, Measured, NotAssessable
from analyzer.model.path import ReadingDoubt
from analyzer.model.recording import InputFile
from analyzer.model.result import Phase, RunResult, SharedFit
from dashboard.view_models.reading_doubts import doubt_line
from dashboard.wording import AXIS_SOURCES, PHASES, TIERS, clock, figure_text, interval_text, number, spread_shows


def evidence_panel(result: RunResult) -> html.Div:
    """Return the list of what the figures rest on, and the files with their counts."""
    evidence = result.evidence
    rows = [
        ("Evidence", TIERS.get(evidence.tier, evidence.tier)),
        ("Position uncertainty in coarse search, one axis", _words(evidence.position_sigma_coarse_m)),
        ("Position uncertainty in fine search, one axis", _words(evidence.position_sigma_fine_m)),
        ("Reading clock, seconds added to meet the track", _words(evidence.clock_offset_s)),
        ("Shown reading over the field's range", _words(evidence.reading_scale)),
        ("Antenna axis", AXIS_SOURCES.get(evidence.axis_source, evidence.axis_source)),
        ("Places and axes estimated from", _shared(result.shared)),
        ("Rule sheet", f"{result.rules.name}, version {result.rules.version} ({result.rules.sha256[:8]})"),
        ("Engine", result.engine or "not stated"),
        ("Time zero", result.time_zero.strftime("%Y-%m-%d %H:%M:%S UTC")),
    ]
    listed = html.Dl([html.Div([html.Dt(name), html.Dd(text)]) for name, text in rows], className="evidence")
    return html.Div(
        [
            listed,
            *_doubts(result.evidence.doubts),
            html.H3("Phases"),
            _phases(result.phases),
            html.H3("Files and what was set aside"),
            _files(result.inputs),
            *_not_read(evidence.not_read),
        ]
    )


def _doubts(doubts: tuple[ReadingDoubt, ...]) -> list[Component]:
    """Return the stretches of the log that fit no place, where there are any."""
    if not doubts:
        return []
    return [html.H3("Readings that fit no place"), html.Ul([html.Li(doubt_line(d)) for d in doubts], className="files")]


def _words(measured: Measured) -> str:
    if isinstance(measured, NotAssessable):
        return f"not assessable: {measured.why}"
    spread = isinstance(measured, Figure) and spread_shows(measured)
    return f"{figure_text(measured)} (90 %: {interval_text(measured)})" if spread else figure_text(measured)


def _shared(shared: SharedFit | None) -> str:
    """Return which runs the fit had; `shared` is of a run, whose own evidence counts in any case."""
    return "this run alone" if shared is None else ", ".join(run.run for run in shared.runs)


def _phases(phases: tuple[Phase, ...]) -> html.Ul:
    """Return the bounds of every phase with one standard deviation, and what the engine remarks on them."""
    return html.Ul(
        [
            html.Li(
                [
                    html.Strong(PHASES[p.phase]),
                    f" {p.transmitter}: {_bound(p.start_s, p.start_sigma_s)} to "
                    f"{_bound(p.end_s, p.end_sigma_s)}, {number(p.walked_m)} m walked. {p.note}".rstrip(),
                ]
            )
            for p in phases
        ],
        className="files",
    )


def _bound(at_s: float, sigma_s: float | None) -> str:
    return f"{clock(at_s)} (not assessable)" if sigma_s is None else f"{clock(at_s)} ± {sigma_s:.1f} s"


def _files(inputs: tuple[InputFile, ...]) -> html.Ul:
    return html.Ul(
        [
            html.Li(
                [html.Strong(file.name), f": {file.used} of {file.rows} rows used. ", _dropped(file), _told(file)],
                title=f"sha256 {file.sha256}",
            )
            for file in inputs
        ],
        className="files",
    )


def _told(file: InputFile) -> str:
    """Return how a file was read, where that is a choice or not as it is written."""
    return f" How it was read: {'; '.join(file.told)}." if file.told else ""


def _not_read(names: tuple[str, ...]) -> list[Component]:
    """Return the further files in the run's folder, where there are any."""
    if not names:
        return []
    words = f"In the run's folder, and read by nobody ({len(names)}): {', '.join(names)}."
    return [html.P(words, className="quiet")]


def _dropped(file: InputFile) -> str:
    if not file.dropped:
        return "Nothing set aside."
    return "Set aside: " + "; ".join(f"{count} {reason}" for reason, count in file.dropped) + "."
