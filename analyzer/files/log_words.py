"""What people call the columns of a log and the marks of a run, in English, German, French and Italian.

A word is here where it can mean one thing only at the head of such a table. Capitals, underscores, hyphens and a unit
in brackets make no difference.
"""

import re

from analyzer.model.recording import MARKS

MOMENT = "moment"
"""A column of times that may be times of day, or count from the start: the values have to show it."""
DATE = "date"
READING, MARK = "reading_m", "mark"
"""The columns that make a table a reading log, and marks; with those beside them, apart from times."""
READING_COLUMNS = (READING, "transmitter", "steer_deg", "heading_deg")
MARK_COLUMNS = (MARK, "transmitter", "note", "clock")

COLUMN_WORDS: dict[str, tuple[str, ...]] = {
    MOMENT: ("time", "zeit", "temps", "tempo", "t"),
    "time": (
        "time of day", "clock time", "local time", "timestamp", "date time", "datetime", "date and time",
        "uhrzeit", "tageszeit", "datum uhrzeit", "datum zeit", "datum und uhrzeit",
        "heure", "date heure", "date et heure",
        "ora", "orario", "data ora", "data e ora",
    ),
    "elapsed": (
        "elapsed", "elapsed time", "time elapsed", "since start", "run time", "stopwatch", "video time",
        "laufzeit", "verstrichene zeit", "seit start", "stoppuhr", "videozeit",
        "temps écoulé", "temps ecoule", "depuis le départ", "chrono", "chronomètre",
        "tempo trascorso", "dalla partenza", "cronometro",
        "s", "sec", "secs", "second", "seconds", "sek", "sekunde", "sekunden", "seconde", "secondes", "secondi",
    ),
    DATE: ("date", "day", "datum", "jour", "data", "giorno"),
    "reading_m": (
        "reading", "readings", "reading shown", "distance", "distance shown", "shown", "display",
        "anzeige", "anzeigewert", "angezeigte distanz", "angezeigte entfernung", "distanz", "entfernung",
        "lecture", "affichage", "distance affichée", "distance affichee",
        "lettura", "distanza", "distanza indicata",
        "m", "metre", "metres", "meter", "meters", "mètre", "mètres", "metri",
    ),
    "transmitter": ("transmitter", "sender", "émetteur", "emetteur", "trasmettitore", "trasmittente"),
    "steer_deg": ("steer",),
    "heading_deg": ("heading",),
    "mark": (
        "mark", "marks", "event", "ereignis", "repère", "événement", "evenement", "evento",
    ),
    "note": (
        "note", "notes", "remark", "remarks", "comment", "comments", "bemerkung", "bemerkungen", "notiz", "kommentar",
        "remarque", "remarques", "commentaire", "osservazione", "osservazioni", "commento", "nota",
    ),
    "clock": ("clock",),
}  # fmt: skip
"""Column -> its names; in the first language that has it. `steer` and `heading` are degrees."""

MARK_WORDS: dict[str, tuple[str, ...]] = {
    "start": ("départ", "depart", "partenza"),
    "first_reading": (
        "first signal", "erste anzeige", "erstes signal", "erstempfang", "première lecture", "premiere lecture",
        "premier signal", "prima lettura", "primo segnale",
    ),
    "fine_start": (
        "fine search start", "start of fine search", "beginn feinsuche", "start feinsuche", "début recherche fine",
        "debut recherche fine", "inizio ricerca fine",
    ),
    "probe_hit": ("hit", "probe strike", "treffer", "sondentreffer", "sondierungstreffer", "sonde positive"),
    "finish": ("ziel", "arrivée", "arrivee", "arrivo"),
}  # fmt: skip
"""Mark -> what else it is called."""

NOTHING_SHOWN = frozenset({
    "search", "searching", "no signal", "nothing", "none", "n/a", "suche", "suchen", "kein signal", "nichts",
    "recherche", "pas de signal", "rien", "ricerca", "nessun segnale", "niente",
})  # fmt: skip
"""What stands in the place of a reading where the receiver showed none; dashes as well."""
DASHES = re.compile(r"[-\u2010-\u2015\u2212]+")

METRES = frozenset({"m", "metre", "metres", "meter", "meters", "mètre", "mètres", "metri"})
SECONDS = frozenset({"s", "sec", "secs", "second", "seconds", "sek", "sekunden", "secondes", "secondi"})
MINUTES_AND_SECONDS = frozenset({"mm:ss", "m:ss", "mm.ss", "min:s", "min:sec", "min:sek", "mm:ss.s", "mm:ss,s"})
OF_THE_PLACE = frozenset({"local", "local time", "lokal", "ortszeit", "heure locale", "ora locale"})
"""Beside times of day: nothing is said of their zone."""
HOURS_TOO = frozenset({"h:mm:ss", "hh:mm:ss"})
DEGREES = frozenset({"deg", "degrees", "°", "grad", "degrés", "gradi"})

LONGEST = 80
"""Characters of a heading; a longer text is none, and costs the patterns more than its length."""
_UNIT = re.compile(r"(.*?)\s*[(\[]([^()\[\]]*)[)\]]\s*")
_UNIT_WORD = re.compile(r"(.+?)(?: (?:in|en))? (m|s|deg)")


def plain(text: str) -> str:
    """Return a name without capitals, underscores and hyphens."""
    return " ".join(re.sub(r"[_\-/.]+", " ", text.casefold()).split())


_KEYS = {plain(word): key for key, words in COLUMN_WORDS.items() for word in words}
_MARKS = {plain(word): mark for mark, words in MARK_WORDS.items() for word in words} | {plain(m): m for m in MARKS}
WORDS_OF = {key: sorted({plain(w) for w in (key, *words)}) for key, words in COLUMN_WORDS.items()}


def column_of(header: str) -> tuple[str, str]:
    """Return the column that a header means, "" where it is none of a log, and its unit, "" where it has none."""
    text, unit = header.strip(), ""
    if len(text) > LONGEST:
        return "", ""
    bracket = _UNIT.fullmatch(text)
    if bracket:
        text, unit = bracket.group(1), bracket.group(2).strip().casefold()
    word = plain(text)
    found = None if unit else _UNIT_WORD.fullmatch(word)
    if found and found.group(1) in _KEYS:
        word, unit = found.group(1), found.group(2)
    key = _KEYS.get(word, "")
    if key == MOMENT and unit in SECONDS | MINUTES_AND_SECONDS:  # such a time counts from the start
        return "elapsed", unit
    return key, unit or ("s" if word in SECONDS else "")


def mark_of(text: str) -> str:
    """Return the mark that a word means, "" where it means none for certain."""
    return _MARKS.get(plain(text), "")


def shows_nothing(text: str) -> bool:
    """Return whether a cell says that the receiver showed no distance."""
    return not text or DASHES.fullmatch(text) is not None or " ".join(text.casefold().split()) in NOTHING_SHOWN
