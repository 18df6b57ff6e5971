"""HTTP and the command line: parse, call, answer.

Here requests and arguments become calls on `sync` and `reports`. No rule of the trade and no page layout lives here.
"""
