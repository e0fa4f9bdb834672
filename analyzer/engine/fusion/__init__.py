"""From recordings to fused paths: maximum a posteriori over the whole run, with the uncertainty that is left."""
