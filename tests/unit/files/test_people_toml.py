"""people.toml: what is read, what is refused, what a rewriting keeps."""

import datetime as dt

import pytest

from analyzer.errors import InputError
from analyzer.model.people import People, Person, name_key
from analyzer.workspace.people.people_toml import change_people, parse_people, people_bytes, read_people

MARA = Person("Mara", "Tuesday", True, dt.date(2026, 1, 17), ("mk", 'M "K" \\ é'), "left-handed")
TEXT = """# Our people.
# By Ilo.

[[person]]
name = "Mara"
consent = true
consent_date = 2026-01-17
note = "# no comment"
"""


def test_round_trip():
    people = People((MARA, Person("Ilo")))
    assert parse_people(people_bytes(people)) == people


def test_nobody_without_a_file(tmp_path):
    assert read_people(tmp_path) == People()
    (tmp_path / "people.toml").write_text("\n")
    assert read_people(tmp_path) == People()


@pytest.mark.parametrize(
    ("spelling", "same"),
    [
        ("  mara \t", True),
        ("MARA", True),
        ("m\u00aara", True),  # NFKC folds the ordinal indicator, Unicode Standard Annex 15
        ("Mar", False),
        ('M "k" \\ e\u0301', True),  # the accent as a character of its own
    ],
)
def test_spellings_are_found(spelling, same):
    assert (People((MARA,)).find(spelling) is MARA) == same


def test_name_key_is_stable():
    assert name_key(name_key("  Ünter  ŞEN ß ")) == name_key("ünter şen SS")


@pytest.mark.parametrize(
    ("text", "where", "what"),
    [
        ('[[person]]\nname = "A"\nconsent = true\n', "people.toml, [[person]] 1, consent_date", "without its date"),
        ('[[person]]\nname = "A"\nconsent = "yes"\n', "people.toml, [[person]] 1, consent", "neither true nor false"),
        ('[[person]]\nname = " "\n', "people.toml, [[person]] 1, name", "is no name"),
        ('[[person]]\nname = "A\\nB"\n', "people.toml, [[person]] 1, name", "is no name"),
        ("[[person]]\n", "people.toml, [[person]] 1", "name is missing"),
        ('[[person]]\nname = "A"\nspellings = "B"\n', "people.toml, [[person]] 1, spellings", "not a list of names"),
        ('[[person]]\nname = "A"\n[[person]]\nname = " a"\n', "people.toml, [[person]] 2, name", "stands for 'A'"),
        ('[[person]]\nname = "A"\n[[person]]\nname = "B"\nspellings = ["a"]\n', "people.toml, [[person]] 2, spellings",
         "stands for 'A'"),
        ('[[person]]\nname = "A"\ngrupo = "x"\n', "people.toml, [[person]] 1", "'grupo' is not known"),
        ('[[persons]]\nname = "A"\n', "people.toml", "'persons' is not known"),
    ],
)  # fmt: skip
def test_refused(text, where, what):
    with pytest.raises(InputError) as caught:
        parse_people(text.encode())
    assert caught.value.where == where
    assert what in caught.value.what


def test_a_spelling_twice_of_one_person_does_no_harm():
    people = parse_people(b'[[person]]\nname = "A"\nspellings = ["a", "B", "b"]\n')
    assert people.find("b") is people.persons[0]


def test_rewriting_keeps_the_first_lines(tmp_path):
    path = tmp_path / "people.toml"
    path.write_text(TEXT)
    change_people(tmp_path, lambda people: People((*people.persons, Person("Ilo"))))
    assert path.read_text().startswith("# Our people.\n# By Ilo.\n\n[[person]]\n")
    assert [p.name for p in read_people(tmp_path).persons] == ["Mara", "Ilo"]
    assert read_people(tmp_path).persons[0].note == "# no comment"


COMMENTS = ('name = "Mara"  # the first', "# about Mara", "note = '''\n# text\n''' # not text")


@pytest.mark.parametrize("comment", COMMENTS)
def test_rewriting_loses_no_other_comment(tmp_path, comment):
    path = tmp_path / "people.toml"
    text = TEXT.replace('name = "Mara"', comment if comment.startswith("name") else f'name = "Mara"\n{comment}')
    text = text.replace('note = "# no comment"\n', "") if "note" in comment else text
    path.write_text(text)
    assert len(read_people(tmp_path).persons) == 1
    with pytest.raises(InputError, match=r"people.toml, line \d+: this command would lose the comment"):
        change_people(tmp_path, lambda people: people)
    assert path.read_text() == text


def test_a_change_that_makes_a_bad_file_is_not_written(tmp_path):
    path = tmp_path / "people.toml"
    path.write_text(TEXT)
    with pytest.raises(InputError, match="stands for 'Mara'"):
        change_people(tmp_path, lambda people: People((*people.persons, Person("MARA"))))
    assert path.read_text() == TEXT
