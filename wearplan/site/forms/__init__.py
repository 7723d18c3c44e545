"""The forms of the files that people write, as pydantic checks them, and their JSON Schema; only they load pydantic."""
