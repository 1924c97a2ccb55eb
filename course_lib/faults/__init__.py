"""What can break and why: causes, parts, what they leave, pasts, repairs."""
