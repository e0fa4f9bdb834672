"""The people of a workspace: who they are, what is known of them, and how it is given back or forgotten."""
