"""Synthetic patients whose truth is known: an arch of solids, and the records a practice would have of it.

Everything is built in *jaw coordinates*: the arch frame with the height (apical positive) in place of z, so that both jaws
are built by the same code; :func:`festoon.phantom.solids.in_arch_frame` turns them into the arch frame.
"""
