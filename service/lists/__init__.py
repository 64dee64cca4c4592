"""Old lists moved in as one act, and everything taken out again as plain tables."""
