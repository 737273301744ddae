"""Measures in a house: the surveys they lead to, where they meet, and which set of them to take.

parts           what each action of each measure does at each single place
derivation      the survey with any of those parts, for the one resolver; added_layers makes its new constructions
interactions    groups of measures that meet, between which effects on a load are a sum
study           every combination that matters resolved, each once
goals           what is to be reached, as quantities in watts
choice          the cheapest set by an exact solver; frontier: cost against load
least_thickness, cautions, statements, workings    what the answer says besides
"""
