"""Result files of runs: values to bytes and back, and tables for a spreadsheet."""
