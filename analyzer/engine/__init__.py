"""From checked values to a measured, accounted and scored run; `pipeline` joins the stages."""
