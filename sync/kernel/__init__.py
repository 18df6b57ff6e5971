"""The kernel: what judges, folds, prices, digests and checks, the same on the phone and at the desk.

Pure: values in, values out. It may import only `sync.errors` and itself, and use only what `sync.emitter` can
translate.
"""
