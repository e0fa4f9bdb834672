"""What a page shows, as plain values; no Dash, no Plotly, no engine."""
