"""What every answer passes: compression, and files that come in."""
