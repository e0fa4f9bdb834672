"""Files that people load beside those that are read, by their first bytes: what each is and what to do instead."""

OFFICE = "this is a document of an office program, and no spreadsheet that is read"
AS_CSV = "it is kept and not used; save the table in it as .xlsx, .ods or CSV, and load that"
PICTURE = ("this is a picture", "it is kept and not used; load the file that the recorder wrote")
FILM = (
    "this is a film",
    "it is kept and not used; write the readings that it shows into a readings.csv, and load that",
)
DOCUMENT = ("this is a PDF document", "it is kept and not used; load the file that the recorder wrote")
MARKS = ((b"\xff\xd8\xff", PICTURE), (b"\x89PNG\r\n\x1a\n", PICTURE), (b"GIF8", PICTURE), (b"%PDF-", DOCUMENT))
"""How JPEG, PNG, GIF and PDF begin, as their specifications say."""
MEDIA_BOX = slice(4, 8)
"""Of ISO base media files (films, and pictures of the HEIF family): the name of the first box, "ftyp"."""
MEDIA_BRAND = slice(8, 12)
PICTURE_BRANDS = (b"heic", b"heix", b"heif", b"mif1", b"avif")


def what_else(data: bytes) -> tuple[str, str] | None:
    """Return what a file is and what to do, or None where its first bytes say nothing that is known here."""
    for mark, words in MARKS:
        if data.startswith(mark):
            return words
    if data[MEDIA_BOX] == b"ftyp":
        return PICTURE if data[MEDIA_BRAND] in PICTURE_BRANDS else FILM
    return None
