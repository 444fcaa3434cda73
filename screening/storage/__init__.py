"""Storage for the water of a storm: how much it holds, how long it takes to empty, what it takes to build."""

from __future__ import annotations
