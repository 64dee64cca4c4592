"""A grafting club's record of its scionwood, from the cut on a tree to a graft that took."""
