"""The real brokers of the gateway's tests."""

from tests.gateway.conftest import any_broker, certificates, device, embedded, listen, mosquitto, strict_mosquitto

__all__ = ["any_broker", "certificates", "device", "embedded", "listen", "mosquitto", "strict_mosquitto"]
