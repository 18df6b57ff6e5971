"""The command line: one file for each kind of command.

Commands read arguments, pass their work to a task and print the answer; nothing is decided here.
"""
