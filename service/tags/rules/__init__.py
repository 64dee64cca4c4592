"""Words, facts and plans of tags: what they name, what their labels say, where every mark stands on the paper."""
