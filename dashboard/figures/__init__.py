"""Results to figures: plain dicts with numpy arrays. No Dash, no files, no clock."""
