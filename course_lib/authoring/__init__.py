"""What makers of the course run: notebooks, case book, drafts, surveys, lints."""
