"""Attacks on the program, seeded, each a command of its own and a short part of it among the tests."""
