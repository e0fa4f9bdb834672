"""From single runs to a season: what a run comes to, trends of a person, a table of a group. Values in and out."""
