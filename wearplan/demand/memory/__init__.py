"""Forecasts kept in the folder: what each rested on and said, why the next one differs, and how they did.

A kept forecast is one small file of its own (`kept`), so that copies of a folder merge without conflict; `since` plays
the kept one again and changes one input after another until it is today's; `score` holds kept ones against use.
"""
