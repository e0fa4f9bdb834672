"""The transmitter's field: the dipole, what a receiver reads of it, the lines it draws in the plane of the
surface.

Frame everywhere: the slope frame (contour, upslope, normal) in metres. What needs a recording lives further
up.
"""
