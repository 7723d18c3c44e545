"""Plans chamber entries and tool changes of a pressurised-face shield."""

__version__ = "0.2.0"
