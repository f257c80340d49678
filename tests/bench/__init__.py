"""Benchmarks: ratios in one run; `make bench` prints one table."""
