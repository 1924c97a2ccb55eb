"""Formulas of the trade: plain functions of SI quantities that know no vehicle.

Every function takes floats or arrays that broadcast together and is safe to call in a hot loop: no state
array is checked, so each docstring says where its formula holds. The types name what the product hands in and
gets, arrays; plain numbers give a number. `gearset.solve_train` works on one gear
train at a time and belongs in set-up code. What no vehicle uses does not stand here.
"""
