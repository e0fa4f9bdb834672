"""`searchwake season`: a person's season in sentences, or a group's as a table."""

import argparse
import sys

from analyzer.commands.arguments import place
from analyzer.commands.output import OK, one_thread_each, say
from analyzer.errors import InputError
from analyzer.model.account import CAUSE_TITLES
from analyzer.model.people import name_key
from analyzer.seasons.model import TOO_FEW, CauseCost, GroupSeason, PersonSeason


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command to a parser."""
    parser.add_argument("workspace", type=place, metavar="WORKSPACE", help="a folder that holds drills/, indexed")
    parser.add_argument("--person", metavar="NAME", help="one person's season; the table of all if left out")
    parser.add_argument("--group", metavar="NAME", default="", help="the table of one group of people.toml")
    parser.epilog = (
        "Seconds and metres are related to each drill's reference searcher. People who have not agreed to be named "
        "(people.toml) are not in the table. Example: searchwake season club --person 'Kaja Solbrekk'"
    )


def run(arguments: argparse.Namespace) -> int:
    """Print a season; return the exit code."""
    one_thread_each()
    from analyzer.seasons.group import group_season, lines_by_person
    from analyzer.seasons.source import indexed_season
    from analyzer.seasons.trend import person_season

    lines, people = indexed_season(arguments.workspace)
    if arguments.person is None:
        season = group_season(lines, people, group=arguments.group)
        if not season.runs:
            raise InputError(
                where=f"--group {arguments.group}",
                what="nobody of this group has a run",
                do="look at searchwake people WORKSPACE list",
            )
        _show_group(season, arguments.group)
        return OK
    person = people.find(arguments.person)
    wanted = name_key(person.name if person is not None else arguments.person)
    own = next((p for p in lines_by_person(lines, people).items() if name_key(p[0]) == wanted and wanted), None)
    if own is None:
        raise InputError(
            where=f"--person {arguments.person}",
            what="there is no run of this name",
            do="look at searchwake people WORKSPACE list",
        )
    _show_person(person_season(own[0], own[1]))
    return OK


def _show_person(season: PersonSeason) -> None:
    from analyzer.seasons.words import amount

    say(
        f"{season.name}: {season.runs} runs on {len(season.dates)} days of practice, "
        f"{season.dates[0]} to {season.dates[-1]}\n"
    )
    for trend in season.trends:
        best = ""
        if trend.best is not None:
            sure = ", clear" if trend.best.clear else ""
            at = trend.best.point
            best = f" Best: {amount(at.figure.value, trend.measure.unit)} ({at.date}, {at.drill}/{at.run}{sure})."
        say(f"{trend.measure.name}\n  {trend.sentence}{best}")
    say("")
    _show_causes(season.causes[:3], "What cost most beyond the reference")
    asked = sum(t.state != TOO_FEW for t in season.trends)
    say(f"\nClear: by chance in any of the {asked} measures in at most 5 % of cases. Perhaps: by itself in 10 %.")


def _show_group(season: GroupSeason, group: str) -> None:
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    from analyzer.seasons.words import amount, state_words

    table = Table(title=f"{group or 'All'}: {season.runs} runs on {season.days} days", title_justify="left")
    # What fits across a terminal; `--person` and the dashboard have all.
    columns = [i for i, m in enumerate(season.measures) if m.narrow]
    for title in ("searcher", "runs", *(season.measures[i].narrow for i in columns)):
        table.add_column(title, overflow="fold")
    for row in season.rows:
        words = []
        for i in columns:
            cell = row.cells[i]
            latest = "-" if cell.latest is None else amount(cell.latest, cell.trend.measure.unit)
            words.append(f"{latest}\n{state_words(cell.trend)}")
        table.add_row(*(Text(word) for word in (row.name, str(row.runs), *words)))
    Console(width=None if sys.stdout.isatty() else 150).print(table)
    say("Median of the last three days of practice, and the change over the season.")
    if season.others or season.unnamed:
        people = "1 person who has" if season.others == 1 else f"{season.others} people who have"
        say(f"Not named: {people} not agreed to it (people.toml), {season.unnamed} runs without a searcher.")
    _show_causes(season.causes, "What cost the group most beyond the reference")


def _show_causes(causes: tuple[CauseCost, ...], title: str) -> None:
    say(f"{title}:")
    for cost in causes:
        title = CAUSE_TITLES.get(cost.cause, cost.cause)
        say(f"  {title}: {cost.seconds:.0f} s in {cost.runs} runs, {100 * cost.share:.0f} %")
