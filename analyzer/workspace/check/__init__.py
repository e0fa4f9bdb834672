"""What is wrong with the files of a run, a drill or a workspace, all at once; nothing is measured or written."""
