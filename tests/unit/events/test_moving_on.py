"""Event files, rule sheets and scored events of earlier versions: told in one line, moved on request, kept."""

import pytest

from analyzer import cli
from analyzer.errors import InputError
from analyzer.events.earlier import put_away
from analyzer.events.files.event_toml import parse_event_toml
from analyzer.events.files.forgotten_json import read_forgotten
from analyzer.events.files.kept_facts import read_kept_facts
from analyzer.events.files.rules_toml import RENAMED, parse_event_rules
from analyzer.events.files.scored_json import parse_scored
from analyzer.events.persons import scored_values
from analyzer.model.account import FINDINGS
from analyzer.workspace.layout import EARLIER_STANDINGS, FACTS_FILE, FORGOTTEN_FILE

SHEET = """# Our sheet.
[event_rules]
name = "Club"   # of 2025
version = "1"
kind = "fastest"
missed_transmitter_s = 300
[[event_rules.penalty]]
finding = "off_minimum_probing"
seconds = 20
[[event_rules.penalty]]
finding = 'slow_pace'
seconds = 5
"""
EVENT = """[event]
name = "Invented cup"
[[class]]
id = "open"
[[field]]
drill = "north"
[[entry]]
bib = 1
name = "Mara"
class = "open"
"""


def test_an_old_name_is_refused_with_the_line_that_says_the_new_one():
    assert set(RENAMED.values()) <= set(FINDINGS)
    assert not set(RENAMED) & set(FINDINGS)
    with pytest.raises(InputError) as caught:
        parse_event_rules(SHEET.replace("'slow_pace'", '"pace"').encode(), name="club.toml")
    assert str(caught.value) == (
        "club.toml, [event_rules], [[penalty]] 1, finding: the finding 'off_minimum_probing' has another name now, "
        "'off_lowest'; write finding = \"off_lowest\", or let `searchwake rules --renew club.toml` do it"
    )


def test_a_sheet_is_renewed_on_request_with_its_comments_and_kept(tmp_path, capsys):
    sheet = tmp_path / "club.toml"
    sheet.write_text(SHEET)
    assert cli.main(["rules", str(sheet)]) == 1
    assert "off_lowest" in capsys.readouterr().err
    assert sheet.read_text() == SHEET
    assert cli.main(["rules", "--renew", str(sheet)]) == 0
    assert sheet.read_text() == SHEET.replace("off_minimum_probing", "off_lowest").replace("slow_pace", "pace")
    assert (tmp_path / "club.toml.old").read_text() == SHEET
    assert [p.finding for p in parse_event_rules(sheet.read_bytes(), name="club.toml").penalties] == [
        "off_lowest",
        "pace",
    ]
    assert cli.main(["rules", str(sheet)]) == 0
    capsys.readouterr()
    assert cli.main(["rules", "--renew", str(sheet)]) == 1
    assert "no finding has an old name in this file" in capsys.readouterr().err


def test_an_event_file_with_rules_of_its_own_is_renewed_too(tmp_path, capsys):
    event = tmp_path / "event.toml"
    event.write_text(EVENT + SHEET)
    with pytest.raises(InputError, match=r"rules --renew event\.toml"):
        parse_event_toml(event.read_bytes())
    assert cli.main(["rules", "--renew", str(event)]) == 0
    assert "Invented cup" in capsys.readouterr().out
    assert [p.finding for p in parse_event_toml(event.read_bytes()).rules.penalties] == ["off_lowest", "pace"]


def test_a_file_with_other_mistakes_is_left_as_it_is(tmp_path, capsys):
    sheet = tmp_path / "club.toml"
    sheet.write_text(SHEET.replace("seconds = 20", "seconds = -1"))
    assert cli.main(["rules", "--renew", str(sheet)]) == 1
    assert "-1 is out of range" in capsys.readouterr().err
    assert [p.name for p in tmp_path.iterdir()] == ["club.toml"]


def test_a_scored_event_of_an_earlier_version_is_told_and_kept(tmp_path):
    target = tmp_path / "scored.json"
    target.write_text('{"format": "searchwake-event/2", "integrity": "ab"}')
    with pytest.raises(InputError) as caught:
        parse_scored(target.read_bytes())
    assert "scored by an earlier version (searchwake-event/2); searchwake standings EVENT --again" in str(caught.value)
    kept = put_away(tmp_path)
    (name,) = kept
    assert (tmp_path / EARLIER_STANDINGS / name).read_bytes() == target.read_bytes()
    assert put_away(tmp_path) == kept
    target.write_text('{"format": "searchwake-event/2", "integrity": "cd"}')
    (other,) = put_away(tmp_path)
    assert other != name
    assert (tmp_path / EARLIER_STANDINGS / name).read_text() == '{"format": "searchwake-event/2", "integrity": "ab"}'


@pytest.mark.parametrize(
    ("line", "what"),
    [
        ("missed_transmitter_s = 300.25", "300.25 has more than one decimal"),
        ("missed_transmitter_s = 300\nresolution_s = 0.05", "0.05 is out of range"),
    ],
)
def test_seconds_that_would_not_add_up_as_shown_are_refused(line, what):
    with pytest.raises(InputError, match=what):
        parse_event_rules(SHEET.split("[[")[0].replace("missed_transmitter_s = 300", line).encode(), name="club.toml")


def test_a_finding_has_one_penalty():
    twice = SHEET.replace("'slow_pace'", '"off_lowest"').replace("off_minimum_probing", "off_lowest")
    with pytest.raises(InputError, match="there is a penalty for 'off_lowest' already; keep one of the two"):
        parse_event_rules(twice.encode(), name="club.toml")


@pytest.mark.parametrize("data", [b"[" * 100_000, b'{"integrity": ' * 100_000])
def test_a_standing_that_no_library_reads_is_one_line_and_is_put_away(tmp_path, data):
    with pytest.raises(InputError, match="nesting that is not read"):
        parse_scored(data)
    (tmp_path / "scored.json").write_bytes(data)
    (kept,) = put_away(tmp_path)
    assert (tmp_path / EARLIER_STANDINGS / kept).read_bytes() == data


def test_files_beside_a_standing_that_no_library_reads_are_told_or_made_anew(tmp_path):
    deep = b"[" * 100_000
    (tmp_path / FACTS_FILE).write_bytes(deep)
    assert read_kept_facts(tmp_path) == {}
    (tmp_path / FORGOTTEN_FILE).write_bytes(deep)
    with pytest.raises(InputError, match=r"nesting that is not read; put back the one that was scored"):
        read_forgotten(tmp_path)
    (tmp_path / "scored.json").write_bytes(deep)
    assert scored_values(tmp_path) == {}
