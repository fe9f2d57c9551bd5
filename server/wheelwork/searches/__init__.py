"""Searches that run aside: in processes of their own, so that no answer of the server waits for them."""

from wheelwork.searches.board import shared_board
from wheelwork.searches.searches import Full, Search, Searches

__all__ = ["Full", "Search", "Searches", "shared_board"]
