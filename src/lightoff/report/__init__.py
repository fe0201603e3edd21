"""The report an owner is handed: PDF/A-3a and PDF/UA-1, the same bytes for the same visit."""

from lightoff.report.owner import owner_report

__all__ = ["owner_report"]
