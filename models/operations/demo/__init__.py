"""The invented studio that `ringbench demo` shows: invented people, invented prices, designs of our own."""

from models.operations.demo.shop import found_demo

__all__ = ["found_demo"]
