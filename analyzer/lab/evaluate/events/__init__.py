"""Standings against the truth: simulated events whose true times, places and faults are known.

`python -m analyzer.lab.evaluate.events --events 20 --seed 1`; `--second` takes runs of the second simulator. Each event
has eight entries on two small fields, with one transmitter and with two (of the second simulator: with one and with
three); each run is fitted alone, as in an event. The rule sheet proposes a penalty for every finding that there is; no
judge says anything. Marks are looked at as the simulator's people set them, and with errors of the size that the sheet
states, drawn many times; and once more with all times drawn together to a close finish.
"""
