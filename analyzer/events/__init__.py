"""From measured runs and judges' decisions to scores and places. No files here: values in, values out."""
