"""An invented shop: people, heaters, three seasons of visits. Pure and seeded; nothing in it is real."""

from lightoff.demo.shop import DemoShop, invent_shop

__all__ = ["DemoShop", "invent_shop"]
