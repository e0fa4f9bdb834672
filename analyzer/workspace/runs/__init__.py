"""Runs that are in a workspace, changed by people: their particulars, files and place; with a bin, so that each change
can be taken back."""
