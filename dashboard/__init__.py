"""The debrief in a browser: result files in, pages out. Only `dashboard.service` talks to the engine."""
