"""One module a command: arguments in, words and exit codes out; no measuring here."""
