"""Kills commands at random moments and looks at what they leave."""
