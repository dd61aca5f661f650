"""Photographs against tapes so far: are the figures right on average, and are the intervals honest?"""
