"""Plans chamber entries and tool changes of a pressurised-face shield."""

__version__ = "0.1.0"
