"""A model of two phones and one desk that meet in any order; the desk is real, the phones keep what phones keep."""
