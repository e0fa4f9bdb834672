"""The few pages that a phone on the coach's network can reach: a server of its own, apart from the dashboard."""
