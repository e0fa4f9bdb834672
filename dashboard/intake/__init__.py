"""The way in: files that a browser sends are kept, recognised, matched, put into a drill and measured. No Dash."""
