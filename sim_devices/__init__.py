"""A simulated department that speaks to the gateway over MQTT."""
