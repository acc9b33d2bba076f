"""The files of an audit: tables, a page, sheets; each whole or not at all."""

from __future__ import annotations

import os
import shutil
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from urllib.parse import quote

from auditkit.cli import common
from auditkit.errors import InputError, disk_advice
from auditkit.fleet.audited import Audit
from auditkit.fleet.exported import all_tables, csv_text, parquet_bytes
from auditkit.fleet.report.packet_pages import page_name


@dataclass(frozen=True, slots=True)
class Wanted:
    """Which files of an audit are wanted; None for those that are not."""

    csv: Path | None = None
    parquet: Path | None = None
    page: Path | None = None
    sheets: Path | None = None
    has_orders: bool = False

    @property
    def orders(self) -> Path | None:
        """The folder of the pages of packets, beside the audit's page."""
        if self.page is None or not self.has_orders:
            return None
        return self.page.with_name(f"{self.page.stem}-orders")

    def addresses(self, pages: Mapping[str, str]) -> dict[str, str]:
        """Return the addresses of pages, as the audit's page links them."""
        folder = self.orders
        if folder is None:
            return {}
        return {one: f"{quote(folder.name)}/{page_name(one)}" for one in pages}

    def refuse_existing(self) -> None:
        """Raise InputError where one of them is there already."""
        for path in (self.page, self.sheets):
            if path is not None:
                common.refuse_existing(path)
        for folder in (self.csv, self.parquet, self.orders):
            if folder is not None and folder.exists():
                _refuse_full(folder)


def write(
    audit: Audit, wanted: Wanted, dated: datetime, pages: Mapping[str, str]
) -> list[Path]:
    """Write what is wanted of an audit; return what was written.

    ``pages`` are those of packets, by the packet's SHA-256 in hex.
    """
    orders = wanted.orders if pages else None
    if wanted.csv is not None:
        tables = {
            f"{one.name}.csv": csv_text(one).encode() for one in all_tables(audit)
        }
        _write_folder(wanted.csv, tables)
    if wanted.parquet is not None:
        tables = {
            f"{one.name}.parquet": parquet_bytes(one) for one in all_tables(audit)
        }
        _write_folder(wanted.parquet, tables)
    if wanted.page is not None:
        from auditkit.fleet.report.page import audit_page

        if orders is not None:
            files = {page_name(digest): text.encode() for digest, text in pages.items()}
            _write_folder(orders, files)
        common.write_new(wanted.page, audit_page(audit, wanted.addresses(pages)))
    if wanted.sheets is not None:
        from auditkit.fleet.report.paper import audit_pdf

        common.write_new(wanted.sheets, audit_pdf(audit, dated))
    every = (
        *(wanted.csv, wanted.parquet, orders),
        *(wanted.page, wanted.sheets),
    )
    return [path for path in every if path is not None]


def _refuse_full(folder: Path) -> None:
    if not folder.is_dir() or any(folder.iterdir()):
        raise InputError(
            "this is there already, and is no empty folder",
            where=str(folder),
            what_to_do="name a new folder",
        )


def _write_folder(folder: Path, files: Mapping[str, bytes]) -> None:
    """Write a folder whole or not at all."""
    part = folder.with_name(f"{folder.name}.{os.getpid()}.part")
    try:
        part.mkdir()
        for name, data in files.items():
            (part / name).write_bytes(data)
        if folder.exists():
            _refuse_full(folder)
            folder.rmdir()
        part.rename(folder)
    except OSError as error:
        raise InputError(
            f"it cannot be written: {error.strerror or error}",
            where=str(folder),
            what_to_do=disk_advice(error),
        ) from error
    finally:
        shutil.rmtree(part, ignore_errors=True)
