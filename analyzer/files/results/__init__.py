"""Result files of runs: values to bytes and back, and tables for a spreadsheet."""

RESULT_FORMAT = "searchwake-result/2"
"""The first words of a result file. One of another format is not read: its run is measured anew."""
