"""Documents in other shapes: JSON text read and refused with pointers, questions asked from Python."""
