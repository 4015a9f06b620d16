"""What the errors of the readings make of a plan: chances, what to measure again, and a plan that keeps its limits."""
