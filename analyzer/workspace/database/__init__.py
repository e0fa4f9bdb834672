"""The database of a workspace: an index of files, which can be made anew from them."""
