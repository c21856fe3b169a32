"""The planner: which bottle goes where, so that the fewest clocks run out, and the proof.

Pure Python, standard library only, no wall clock. Enter by :func:`labqueue.planning.plan.make_plan`.
"""
