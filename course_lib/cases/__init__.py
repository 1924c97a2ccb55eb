"""One vehicle: what the learner may see, what not, and the making of it."""
