"""Which figures of the rules serve best, by recorded and simulated days."""
