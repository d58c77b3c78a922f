"""FastAPI pages: wall display and live page."""
