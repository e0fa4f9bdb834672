"""Values to pieces of a page. No files, no engine."""
