"""The equations, one module per standard: numbers in, numbers and the printed intermediates out."""
