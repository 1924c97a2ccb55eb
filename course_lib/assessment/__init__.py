"""What a learner answered, and the only place that says right or wrong."""
