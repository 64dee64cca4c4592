"""Sites, source trees, tree checks and stops."""
