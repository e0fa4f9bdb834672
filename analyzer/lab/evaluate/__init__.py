"""How accurate the analysis is: the engine on simulated runs whose truth is known, and on recordings with a reference.

Truth comes from the simulator and from the reference receiver alone; nothing here knows how the engine works.
"""
