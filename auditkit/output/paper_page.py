"""A page (HTML) to be read on a screen and printed on A4; it loads nothing."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

_STYLE = """
body{font:16px/1.45 sans-serif;max-width:60rem;margin:1rem auto;padding:0 1rem;
color:#111;background:#fff}
h1{font-size:1.5rem}h2{font-size:1.2rem;border-top:2px solid #111;padding-top:.7rem}
h3{font-size:1rem;margin:1.2rem 0 .3rem}
table{border-collapse:collapse;width:100%;margin:.3rem 0}
caption{text-align:left;font-size:.85rem;padding:.2rem 0}
th,td{border:1px solid #888;padding:.25rem .4rem;text-align:left;vertical-align:top;
box-sizing:border-box;overflow-wrap:break-word}
.pairs td{overflow-wrap:anywhere}.pairs th{width:34%}th{font-weight:600}
.wide{overflow-x:auto}.wide table{font-size:.85rem;min-width:44rem}
figure{margin:.6rem 0}svg{max-width:100%;width:40rem;height:auto}
.answer{font-size:1.15rem;font-weight:700}.sign td{height:2.6rem}
@page{size:A4;margin:14mm}
@media print{body{font-size:9pt;line-height:1.3;max-width:none;margin:0;padding:0}
section+section{break-before:page}h2,h3,caption{break-after:avoid}
h3{margin-top:.7rem}th,td{padding:.12rem .3rem}
tr,figure,svg,.pairs,.wide{break-inside:avoid}thead{display:table-header-group}
.wide{overflow:visible}.wide table{font-size:7.5pt;min-width:0;table-layout:fixed}
svg{width:140mm}
.budget thead{font-size:7pt}
.budget th:nth-child(1){width:15%}.budget th:nth-child(2){width:11%}
.budget th:nth-child(3){width:19%}.budget th:nth-child(4){width:12%}
.budget th:nth-child(5){width:9%}.budget th:nth-child(6){width:13%}
.budget th:nth-child(7){width:12%}.budget th:nth-child(8){width:9%}}
"""
_NO_LOADING = (
    '<meta http-equiv="Content-Security-Policy" '
    "content=\"default-src 'none'; style-src 'unsafe-inline'\">"
)


def paper_page(title: str, parts: Iterable[str]) -> str:
    """Return the page; the parts are HTML already."""
    return "\n".join(
        [
            "<!DOCTYPE html>",
            '<html lang="en"><head><meta charset="utf-8">',
            '<meta name="viewport" content="width=device-width,initial-scale=1">',
            _NO_LOADING,
            f"<title>{escape(title)}</title>",
            f"<style>{_STYLE}</style></head><body><main>",
            *parts,
            "</main></body></html>",
            "",
        ]
    )
