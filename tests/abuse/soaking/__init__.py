"""A soak's parts: what is sent, how, what is watched meanwhile, and what it says."""
