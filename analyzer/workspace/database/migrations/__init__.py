"""How a database of an older version becomes one of the present version."""
