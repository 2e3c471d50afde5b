"""Seeded faults on every kind of wire, and what became of them: see `tests/drivers/fault_table.py`."""

from tests.drivers.fault_table import main

__all__ = ["main"]

if __name__ == "__main__":
    main()
