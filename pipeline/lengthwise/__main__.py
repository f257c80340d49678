"""`python -m lengthwise` runs the same command line as `lengthwise`."""

from lengthwise.cli import entry

entry()
