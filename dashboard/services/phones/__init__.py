"""Phones that hand in files over the coach's own network: codes, devices, limits, and what each may see."""
