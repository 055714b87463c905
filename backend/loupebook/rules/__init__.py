"""The rules that are the same on every machine: chain rules, policy, codes, units. Pure; reads shared/."""
