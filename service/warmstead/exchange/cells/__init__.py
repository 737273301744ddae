"""Small questions asked by flat parameters, and answered in a form that a spreadsheet cell takes.

query       a query string taken apart: names and texts, or what is wrong with it
numbers     a text read as a number, a decimal comma included where it can mean nothing else
parameters  what a flat parameter may hold, taken from the question's own request model
layers      a layered construction by numbered parameters
questions   which questions can be asked this way, and how their parameters make up the very request of the question
lookup      one value of a table by row and column
answers     an answer as a bare value, as CSV, as XML
"""
