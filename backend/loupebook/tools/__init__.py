"""Tools: borescopes, testers and what was checked on them."""
