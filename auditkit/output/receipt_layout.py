"""The layout of a customer's receipt, in the language of the typesetter (typst).

One page, A4; black on white, so that it prints in grey. Its words come in as data.
"""

LAYOUT = rb"""
#let data = json(bytes(sys.inputs.data))
#let mono = "DejaVu Sans Mono"
#let wide = 174mm
#let high = 270mm
#let code = 76mm  // with the white around it: 4 modules (ISO/IEC 18004)
#let white = code * 4 / data.modules
#set document(title: data.title, keywords: data.keywords)
#set text(lang: "en", size: 10pt, hyphenate: false, font: ("Libertinus Serif", mono))
#set par(leading: 0.5em, spacing: 0.6em, justify: false)
#set page(paper: "a4", margin: (x: 18mm, top: 15mm, bottom: 12mm))
#show heading: set block(above: 1.2em, below: 0.5em)
#show title: set text(18pt)
#show title: set block(below: 0.7em)
#set terms(separator: [: ], spacing: 0.5em)
#show "\u{200b}": box()  // a word may break here, and nothing is copied with it

#let head = {
  title()
  terms(..data.about.map(((name, said)) => terms.item(name, said)))
  text(9pt, data.made)
}
#let statement(size) = {
  set text(size)
  show heading: set text(size)
  for section in data.sections {
    heading(section.name)
    if section.verdict {
      block(width: 100%, stroke: 1pt + black, inset: 7pt, for line in section.lines {
        par(text(size * 1.15, strong(line.text)))
      })
    } else {
      for line in section.lines {
        block(inset: (left: if line.deeper { 6mm } else { 3mm }), line.text)
      }
    }
  }
}
#let facts = {
  set text(8.5pt)
  set par(leading: 0.45em)
  show heading: set block(above: 0.9em, below: 0.5em)
  show heading: set text(8.5pt)
  for (name, said) in data.facts {
    heading(name)
    text(font: mono, 7.5pt, said)
  }
  heading(data.use.name)
  par(data.use.what)
  par[#data.use.how #box(text(font: mono, 7.5pt, data.use.command))#data.use.else]
}
#let below = {
  grid(
    columns: (code - white, 1fr),
    column-gutter: 4mm,
    pad(left: -white, image(
      bytes(data.code), format: "svg", width: code, alt: data.alt,
    )),
    pad(top: white, facts),
  )
  line(length: 100%, stroke: 0.5pt)
  text(9pt, data.defers)
}

#context {
  let tall = content => measure(block(width: wide, content)).height
  if tall(block(width: wide - code - 4mm, facts)) > code {
    panic("refused: the log's name is longer than the page holds")
  }
  let sizes = range(9).map(step => 11pt - step * 0.5pt)
  let fits = sizes.find(size => tall(head + statement(size) + below) < high - 2mm)
  if fits == none {
    panic("refused: the statement is longer than one page holds")
  }
  head
  statement(fits)
  v(1fr)
  below
}
"""
