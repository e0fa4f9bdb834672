"""A workspace in one file: packed, put back, and two workspaces joined without anything being lost or doubled."""
