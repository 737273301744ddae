"""What people send: the survey document as models, nothing else."""
