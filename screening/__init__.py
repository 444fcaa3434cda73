"""Desk screening of water problems around houses, from open elevation and parcel data."""
