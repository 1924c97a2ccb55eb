"""The instructor's side: a pytest plugin for check cells, marking a class, building the notebooks."""
