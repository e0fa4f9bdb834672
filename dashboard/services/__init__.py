"""The only door from the pages to the engine; one service a subject."""
