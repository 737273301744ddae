"""Two surveys of one house: what is the same in both, and what each difference between them is worth."""
