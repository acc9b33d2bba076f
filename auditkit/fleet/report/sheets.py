"""The layout of an audit on paper, in the language of the typesetter (typst).

It holds no text of any audit: what is printed comes in as data and is never read as
markup. A4; all that colour says is said by shape and dash too, so it prints in grey.
"""

LAYOUT = rb"""
#let data = json(bytes(sys.inputs.data))
#let mono = "DejaVu Sans Mono"
#set document(title: data.title, keywords: data.keywords)
#set text(
  lang: "en", size: 10pt, hyphenate: false, font: ("Libertinus Serif", mono),
)
#set par(leading: 0.55em, spacing: 0.9em)
#set page(
  paper: "a4",
  margin: (x: 20mm, top: 20mm, bottom: 20mm),
  footer: context text(8pt)[
    #data.short #h(1fr) Page #counter(page).display("1 of 1", both: true)
  ],
)
#show title: set text(20pt)
#show title: set block(below: 1.2em)
#show heading.where(level: 1): set text(15pt)
#show heading.where(level: 1): set block(above: 1.9em, below: 0.8em)
#show heading.where(level: 2): set text(13pt)
#show heading.where(level: 2): it => block(
  above: 1.8em, below: 0.8em, width: 100%, fill: luma(92%), inset: 4pt, it.body,
)
#show heading.where(level: 3): set text(11pt)
#show heading.where(level: 3): set block(above: 1.5em, below: 0.6em)
#set list(marker: [\u{2013}], indent: 2pt)
#set table(stroke: 0.4pt + luma(40%), inset: (x: 4pt, y: 3pt))
#show "\u{200b}": box()  // a word may break here, and nothing is copied with it
#show table: set text(8.5pt)
#show table: set par(justify: false, leading: 0.45em)

#let weights = (
  plain: value => par(value),
  lead: value => block(above: 0.9em, below: 0.9em, par(text(12.5pt, value))),
  strong: value => par(strong(value)),
  small: value => par(text(8.5pt, value)),
)
#let picture(one, wide) = block(breakable: false, width: 100%, {
  par(strong(one.title))
  par(one.sentence)
  image(bytes(one.svg), format: "svg", width: wide, alt: one.sentence)
  if one.note != "" { par(text(8.5pt, one.note)) }
})
#let draw = (
  heading: it => heading(level: it.level - 1, it.text),
  said: it => (weights.at(it.weight))(it.text),
  listed: it => list(..it.lines.map(line => [#line])),
  grid: it => {
    let is-exact = at => it.exact.contains(calc.rem(at, it.head.len()))
    block(breakable: it.rows.len() > 12 * it.head.len(), above: 1.2em, {
      block(sticky: true, below: 0.5em, strong(it.caption))
      table(
        columns: it.widths.map(width => width * 1pt),
        align: it.numeric.map(right-set => if right-set { right } else { left }),
        table.header(..it.head.map(cell => strong(cell))),
        ..it.rows.enumerate().map(((at, cell)) => if is-exact(at) {
          text(font: mono, 6.5pt, cell)
        } else { cell }),
      )
    })
  },
  figure: it => if it.small {
    grid(
      columns: (1fr, 1fr), column-gutter: 6mm, row-gutter: 5mm,
      ..it.drawn.map(one => picture(one, 100%)),
    )
  } else {
    for one in it.drawn { picture(one, 100%) }
  },
  answer: it => block(
    width: 100%, stroke: 0.8pt, inset: 7pt, above: 1em, below: 1.2em, breakable: false,
    {
      par(strong(data.answer))
      par(it.text)
      if not it.given { v(16mm) }
    },
  ),
  contents: it => {
    outline(title: data.contents, depth: 2)
    if it.lines <= 12 { pagebreak(weak: true) }
  },
)

#title()
#for block in data.blocks { (draw.at(block.block))(block) }
"""
