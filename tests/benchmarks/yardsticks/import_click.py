"""Yardstick: the library of the command line, loaded and nothing done with it."""

import click

assert click
