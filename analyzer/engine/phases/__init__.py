"""From a fused path to the phases of a run, with how well each boundary is known."""
