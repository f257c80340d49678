"""The demo dataset and the code that makes it; practice, people and numbers are invented."""
