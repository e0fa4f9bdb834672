"""A drill with one transmitter and half a minute of a walk towards it; all is invented."""

DRILL = """[drill]
name = "Bowl"
origin = { latitude = 46.0, longitude = 7.0 }
[[transmitter]]
id = "A"
east_m = 12
north_m = 0
depth_m = 1
"""
TRACK = "time,east_m,north_m\n" + "".join(f"2026-01-17T09:30:{i:02d}Z,{i},0\n" for i in range(30))
