"""The workspace: a folder of drills, people and events; a database is its index."""
