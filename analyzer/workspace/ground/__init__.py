"""The picture of the ground under a drill's plan: read from its file, placed, and drawn light and north up."""
