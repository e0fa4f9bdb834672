"""The pages: an address to a layout. Thin; executed by the dashboard's constructor and by nobody else."""
