"""How an audit's page looks, on a screen and on paper (CSS)."""

STYLE = """
:root{color-scheme:light}
body{font:16px/1.5 sans-serif;max-width:60rem;margin:0 auto;padding:1rem;color:#111;
background:#fff;overflow-wrap:anywhere}
h1{font-size:1.6rem;line-height:1.25;margin:.5rem 0 1rem}
h2{font-size:1.3rem;border-top:2px solid #111;padding-top:.8rem;margin:2.2rem 0 .6rem}
h3{font-size:1.15rem;margin:1.8rem 0 .4rem;padding:.35rem .6rem;background:#eee}
h4{font-size:1rem;margin:1.3rem 0 .3rem}
p,ul,ol{margin:.5rem 0;max-width:46rem}li{margin:.25rem 0}
.lead{font-size:1.15rem;margin:.7rem 0}.strong{font-weight:600}
.small{font-size:.9em}
a{color:#0b4f8a}a:focus-visible,summary:focus-visible,.wide:focus-visible,
.drawn:focus-visible{
outline:3px solid #0b4f8a;outline-offset:2px}
nav ol{list-style:none;padding:0;columns:20rem;max-width:none}nav li{margin:0}
nav a{display:inline-block;padding:.25rem 0}nav .deeper{padding-left:1.4rem}
.wide{overflow-x:auto;margin:.8rem 0}
table{border-collapse:collapse;font-size:.9rem;line-height:1.35}
caption{text-align:left;font-weight:600;padding:.2rem 0}
th,td{border:1px solid #888;padding:.25rem .5rem;text-align:left;vertical-align:top;
font-weight:400;max-width:24rem;overflow-wrap:break-word}
.short{white-space:nowrap}.long{min-width:9rem;overflow-wrap:anywhere}
thead th{font-weight:600;background:#f2f2f2;vertical-align:bottom}
.n{text-align:right;font-variant-numeric:tabular-nums}
.exact{font-family:monospace;font-size:.85rem;min-width:17rem;overflow-wrap:anywhere}
figure{margin:1.2rem 0}figcaption{max-width:46rem;margin:0 0 .4rem}
figcaption b{display:block}
.drawn{overflow-x:auto}.drawn svg{display:block;width:42rem;max-width:none;height:auto}
.side{display:flex;flex-wrap:wrap;gap:1.2rem}.side figure{margin:0;max-width:100%}
.side .drawn svg{width:19rem}
summary h2{display:inline;font-size:1.1rem;border:0;padding:0;margin:0}
summary h2+span{display:block}
details{margin:.4rem 0 1rem}summary{padding:.25rem 0;max-width:46rem}
.answer{border:1px solid #111;padding:.6rem .8rem;margin:.8rem 0;max-width:46rem}
.answer p{margin:0}.room{min-height:5rem}
@media screen{.many th,.many td{padding:.2rem .3rem;font-size:.82rem}
.many td.exact{min-width:11rem;font-size:.78rem}}
@page{size:A4;margin:16mm}
@media print{body{font-size:10pt;max-width:none;padding:0}
h1{font-size:18pt}#part-1{break-before:page}h2,h3,h4,caption,figcaption{break-after:avoid}
tr,figure,.answer,.drawn{break-inside:avoid}thead{display:table-header-group}
.lead{font-size:12.5pt}nav{display:none}.wide{break-inside:avoid}
details .wide{break-inside:auto}
.wide,.drawn{overflow:visible}table{font-size:8pt;width:100%}
th,td{overflow-wrap:anywhere}.short{white-space:nowrap}.long{min-width:0}.exact{font-size:7pt;min-width:0}
.drawn svg{width:165mm;max-width:100%}.side .drawn svg{width:78mm}
a{color:#111;text-decoration:none}}
"""
