"""The address and code by which a phone comes in, as a square code that its camera reads (ISO/IEC 18004)."""

import io

import segno


def join_picture(address: str) -> str:
    """Return the square code of an address as the address of a picture, for a page."""
    return str(segno.make(address, micro=False, error="m").svg_data_uri(scale=6, border=4, dark="#000", light="#fff"))


def join_text(address: str) -> str:
    """Return the square code of an address as text, for a terminal."""
    out = io.StringIO()
    segno.make(address, micro=False, error="m").terminal(out, border=2, compact=True)
    return out.getvalue()
