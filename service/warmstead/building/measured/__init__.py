"""What meter readings say of a house: readings in numbers, the estimate, and the survey on a like basis."""
