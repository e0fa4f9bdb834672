"""The examiner: a second simulator, written without sight of the engine and of the first one; it
shares nothing with them.

It makes drills and runs as files with their truth. What the engine makes of them is told beside what it makes of the
first simulator's runs; nothing is tuned on either alone.
"""
