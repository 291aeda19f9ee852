"""Word lists that the rules read. From memory, each with what it is for; they grow with what recordings teach."""
