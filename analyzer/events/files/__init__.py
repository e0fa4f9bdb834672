"""The files of an event: bytes to checked values and back."""
