"""Files in: kept as they came, recognised, matched, and put into a drill."""
