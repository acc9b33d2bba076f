"""The layout of an exhibit's pages, in the language of the typesetter (typst).

It holds no text of any packet: what is printed comes in as data, ``sys.inputs``, and
is never read as markup. A4; black on white, so that it prints in grey.
"""

LAYOUT = rb"""
#let data = json(bytes(sys.inputs.data))
#set document(
  title: data.title,
  keywords: data.keywords,
  description: data.description,
)
#set text(
  lang: "en", size: 10pt, hyphenate: false,
  font: ("Libertinus Serif", "DejaVu Sans Mono"),
)
#set par(leading: 0.55em, spacing: 0.75em)
#set page(
  paper: "a4",
  margin: (x: 20mm, top: 22mm, bottom: 22mm),
  header: text(8pt, data.title),
  footer: context text(8pt)[
    SHA-256 of the packet: #text(font: "DejaVu Sans Mono", 6.5pt, data.sha256)
    #h(1fr) Page #counter(page).display("1 of 1", both: true)
  ],
)
#show heading.where(level: 1): set text(15pt)
#show heading.where(level: 1): set block(above: 1.4em, below: 0.8em)
#show heading.where(level: 2): set text(11.5pt)
#show heading.where(level: 2): set block(above: 1.5em, below: 0.7em)
#set list(marker: [\u{2013}], indent: 2pt)
#set enum(indent: 2pt)
#set terms(separator: [: ], hanging-indent: 12pt, spacing: 0.55em)
#set table(stroke: 0.4pt + luma(40%), inset: (x: 4pt, y: 3pt))
#show "\u{200b}": box()  // a word may break here, and nothing is copied with it
#show table: set text(9pt)
#show table: set par(justify: false)

#pdf.attach(
  "packet.json",
  bytes(sys.inputs.packet),
  relationship: "source",
  mime-type: "application/json",
  description: "The packet that this exhibit was made from",
)

#let exact(value) = text(font: "DejaVu Sans Mono", 8pt, value)
#let styles = (
  plain: value => par(value),
  strong: value => par(strong(value)),
  small: value => par(text(8.5pt, value)),
  answer: value => block(
    width: 100%, stroke: 1pt + black, inset: 8pt, text(12pt, strong(value)),
  ),
)
#let draw = (
  heading: it => heading(level: it.level, it.text),
  paragraph: it => (styles.at(it.style))(it.text),
  facts: it => terms(..it.rows.map(row => terms.item(
    row.name, if row.exact { exact(row.value) } else { row.value },
  ))),
  items: it => if it.series == "" {
    list(..it.items.map(item => [#item]))
  } else {
    enum(numbering: n => it.series + str(n) + ".", ..it.items.map(item => [#item]))
  },
  table: it => table(
    columns: it.widths.map(width => width * 1pt),
    table.header(..it.head.map(cell => strong(cell))),
    ..it.rows,
  ),
  blanks: it => for label in it.labels {
    block(above: 0.9em, below: 0.9em, breakable: false, {
      text(9pt, label + ":")
      v(5mm, weak: false)
      line(length: 100%, stroke: 0.5pt)
    })
  },
  newpage: it => pagebreak(weak: true),
)

#title()
#for block in data.blocks { (draw.at(block.block))(block) }
"""
