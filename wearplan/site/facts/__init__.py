"""The frozen records, by subject; `wearplan.site.records` offers them all."""
