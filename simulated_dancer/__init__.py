"""A simulated dancer with known truth, for the demo takes, the tests and the bench."""
