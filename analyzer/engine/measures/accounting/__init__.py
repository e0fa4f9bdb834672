"""The account of a run against one reference searcher, and its timeline: each phase a module, joined in `run`."""
