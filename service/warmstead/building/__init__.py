"""A survey resolved into plain numbers, once, and its heat balance."""
