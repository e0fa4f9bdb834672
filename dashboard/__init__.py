"""The debrief in a browser: result files in, pages out. Only `dashboard.services.results` talks to the engine."""
