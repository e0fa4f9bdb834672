"""`searchwake season`: a person's season in sentences, or a group's as a table."""

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from analyzer.commands.arguments import place
from analyzer.commands.output import OK, one_thread_each, say, visible
from analyzer.errors import InputError
from analyzer.model.account import CAUSE_TITLES
from analyzer.model.people import name_key
from analyzer.seasons.model import TOO_FEW, CauseCost, GroupSeason, Period, PersonSeason
from analyzer.seasons.words import LEAST

if TYPE_CHECKING:
    from analyzer.model.people import People
    from analyzer.model.run_line import RunLine


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command to a parser."""
    parser.add_argument("workspace", type=place, metavar="WORKSPACE", help="a folder that holds drills/, indexed")
    parser.add_argument("--person", metavar="NAME", help="one person's season; the table of all if left out")
    parser.add_argument("--group", metavar="NAME", default="", help="the table of one group of people.toml")
    parser.add_argument("--from", metavar="DAY", dest="first", default="", help="first day, like 2026-01-15")
    parser.add_argument("--to", metavar="DAY", dest="last", default="", help="last day; the newest winter if neither")
    parser.add_argument("--across", action="store_true", help="all winters, a row each")
    parser.epilog = (
        "A season is a winter, 1 October to 30 September, the newest that has runs, or what --from and --to say. "
        "Seconds and metres are related to each drill's reference searcher. People who have not agreed to be named "
        "(people.toml) are not in the table. Example: searchwake season club --person 'Kaja Solbrekk'"
    )


def run(arguments: argparse.Namespace) -> int:
    """Print a season; return the exit code."""
    one_thread_each()
    from analyzer.seasons.group import across_seasons, group_season
    from analyzer.seasons.period import ALL_TIME, chosen_period, within
    from analyzer.seasons.source import indexed_season

    if arguments.across and (arguments.first or arguments.last):
        raise InputError(where="--across", what="it shows all winters", do="leave out --from and --to, or --across")
    lines, people = indexed_season(arguments.workspace)
    if arguments.person is not None:
        return _person(arguments, lines, people)
    period = ALL_TIME if arguments.across else chosen_period(lines, arguments.first, arguments.last)
    mine = within(lines, period)
    season = (across_seasons if arguments.across else group_season)(mine, people, group=arguments.group)
    if not season.runs:
        where = f"--group {arguments.group}" if arguments.group else period.name
        raise InputError(
            where=where,
            what=f"nobody of this group has a run ({period.name})" if arguments.group else "no run lies in these days",
            do="look at searchwake people WORKSPACE list",
        )
    _show_group(season, arguments.group, period)
    _say_near(arguments.workspace, mine, people)
    return OK


def _person(arguments: argparse.Namespace, lines: "tuple[RunLine, ...]", people: "People") -> int:
    from analyzer.seasons.group import lines_by_person
    from analyzer.seasons.period import chosen_period, winters_of, within
    from analyzer.seasons.trend import person_season

    person = people.find(arguments.person)
    wanted = name_key(person.name if person is not None else arguments.person)
    own = next((p for p in lines_by_person(lines, people).items() if name_key(p[0]) == wanted and wanted), None)
    if own is None:
        raise InputError(
            where=f"--person {arguments.person}",
            what="there is no run of this name",
            do="look at searchwake people WORKSPACE list",
        )
    winters = winters_of(own[1])
    periods = reversed(winters) if arguments.across else (chosen_period(own[1], arguments.first, arguments.last),)
    for period in periods:
        mine = within(own[1], period)
        if not mine:
            raise InputError(
                where=period.name,
                what=f"{own[0]} has no run in these days",
                do=f"there are runs in {', '.join(w.name for w in winters)}",
            )
        _show_person(person_season(own[0], mine), period)
    return OK


def _say_near(workspace: Path, lines: "tuple[RunLine, ...]", people: "People") -> None:
    """Say that names look alike; the names themselves are for `searchwake people list`, which is for nobody else."""
    from analyzer.seasons.spellings import near_names

    near = near_names({line.searcher for line in lines}, people)
    if near:
        pairs = "1 pair of names looks" if len(near) == 1 else f"{len(near)} pairs of names look"
        say(f"{pairs} like one person spelt twice: searchwake people {workspace} list")


def _show_person(season: PersonSeason, period: Period) -> None:
    from analyzer.seasons.words import amount, good_words, plural

    days = f"{plural(season.runs, 'run')} on {plural(len(season.dates), 'day')} of practice"
    say(f"{season.name}, {period.name}: {days}, {season.dates[0]} to {season.dates[-1]}\n")
    told = [t for t in season.trends if t.state != TOO_FEW]
    if not told:
        say(f"Too few days for a trend: {LEAST}.\n")
    for trend in told or season.trends:
        best = ""
        good_runs = sum(trend.measure.distance(p.figure.value) == 0.0 for p in trend.points)
        if 1 < good_runs < len(trend.points):
            best = f" As good as it needs to be in {good_runs} of {plural(len(trend.points), 'run')}."
        elif trend.best is not None and good_runs < 2:
            sure = ", clear" if trend.best.clear else ""
            at = trend.best.point
            best = f" Best: {amount(at.figure.value, trend.measure)} ({at.date}, {at.drill}/{at.run}{sure})."
        good = good_words(trend.measure)
        say(f"{trend.measure.name}{f' (good: {good})' if good else ''}\n  {trend.sentence if told else ''}{best}")
    few = [t.measure.name for t in season.trends if t.state == TOO_FEW] if told else []
    if few:
        say(f"Too few runs for a trend ({LEAST}):\n  {'; '.join(few)}")
    say("")
    _show_causes(season.causes[:3], "What cost most beyond the reference")
    if told:
        say(
            "\nClear: of people who do not change, at most 5 % are told so of any measure, and 1 % that it got worse. "
            "Perhaps: at most 20 %.\n"
        )


def _show_group(season: GroupSeason, group: str, period: Period) -> None:
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    from analyzer.seasons.words import amount, plural, state_words

    title = f"{group or 'All'}, {period.name}: {plural(season.runs, 'run')} on {plural(season.days, 'day')}"
    table = Table(title=Text(visible(title)), title_justify="left")
    across = any(row.period is not None for row in season.rows)
    # What fits across a terminal; `--person` and the dashboard have all.
    columns = [i for i, m in enumerate(season.measures) if m.narrow]
    heads = ("searcher", *(("season",) if across else ()), "runs", *(season.measures[i].narrow for i in columns))
    for head in heads:
        table.add_column(head, overflow="fold")
    for row in season.rows:
        words = [row.name, *([row.period.name] if row.period is not None else [])]
        words.append(f"{row.runs}\n(too few)" if row.too_few else str(row.runs))
        for cell in (row.cells[i] for i in columns):
            latest = "-" if cell.latest is None else amount(cell.latest, cell.trend.measure)
            words.append(latest if cell.trend.state == TOO_FEW else f"{latest}\n{state_words(cell.trend)}")
        table.add_row(*(Text(visible(word)) for word in words))
    Console(width=None if sys.stdout.isatty() else 150).print(table)
    say(
        ("Median of the winter" if across else "Median of the last three days of practice")
        + ", and the change over it."
    )
    if any(row.too_few for row in season.rows):
        say(f"Too few: {LEAST}.")
    if season.others or season.unnamed:
        people = plural(season.others, "person who has", "people who have")
        say(f"Not named: {people} not agreed to it (people.toml), {plural(season.unnamed, 'run')} without a searcher.")
    if not season.rows:
        say("Whoever agrees to be named: searchwake people WORKSPACE add NAME --consent DAY")
    _show_causes(season.causes, "What cost the group most beyond the reference")


def _show_causes(causes: tuple[CauseCost, ...], title: str) -> None:
    from analyzer.seasons.words import plural

    say(f"{title}:")
    for cost in causes:
        title = CAUSE_TITLES.get(cost.cause, cost.cause)
        say(f"  {title}: {cost.seconds:.0f} s in {plural(cost.runs, 'run')}, {100 * cost.share:.0f} %")
