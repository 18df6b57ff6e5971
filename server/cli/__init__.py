"""The command line: a file a kind of command.

Commands read arguments, hand their work to a task and print the answer; nothing is decided here.
"""
