"""Named situations, each with what is to be raised and what is not."""
