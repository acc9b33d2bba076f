"""The layout of a customer's receipt, in the language of the typesetter (typst).

A4, black on white, so that it prints in grey. The code stands at the foot of the first
page; what does not fit above it goes on behind. Its words come in as data.
"""

LAYOUT = rb"""
#let data = json(bytes(sys.inputs.data))
#let mono = "DejaVu Sans Mono"
#let code = data.wide * 1mm  // with the white around it: 4 modules (ISO/IEC 18004)
#let white = code * 4 / data.modules
#set document(title: data.title, keywords: data.keywords)
#set text(lang: "en", size: 10pt, hyphenate: false, font: ("Libertinus Serif", mono))
#set par(leading: 0.5em, spacing: 0.6em, justify: false)
#set page(
  paper: "a4",
  margin: (x: 18mm, top: 13mm, bottom: 18mm),
  footer: context {
    set text(8.5pt)
    line(length: 100%, stroke: 0.5pt)
    [#data.defers #h(1fr) #data.order, page #counter(page).display() of
    #counter(page).final().first()]
  },
)
#show heading: set block(above: 1em, below: 0.5em, sticky: true)
#show heading: set text(10.5pt)
#show title: set text(if data.title.len() > 50 { 9.5pt } else { 18pt })
#show title: set block(below: 0.6em)
#set table(stroke: (x, y) => if y > 0 { (top: 0.4pt) }, inset: (x: 3pt, y: 3pt))
#show table.cell.where(y: 0): strong
#show "\u{200b}": box()  // a word may break here, and nothing is copied with it

#let svg(drawn, ..how) = image(bytes(drawn), format: "svg", ..how)
#let lines(section) = for line in section.lines {
  block(inset: (left: if line.deeper { 6mm } else { 3mm }), line.text)
}
#let facts = {
  set text(8pt)
  set par(leading: 0.45em, spacing: 0.55em)
  show heading: set block(above: 0.8em, below: 0.45em)
  show heading: set text(8.5pt)
  for section in data.how {
    heading(section.name)
    for line in section.lines { par(line) }
  }
  heading(data.text_name)
  set text(font: mono, 6.5pt)
  set par(leading: 0.35em, spacing: 0.35em)
  for line in data.text { par(line) }
}
#let below = grid(
  columns: (code - white, 1fr),
  column-gutter: 4mm,
  {
    pad(left: -white, svg(data.code, width: code, alt: data.alt))
    v(-white)
    text(7pt, data.size)
  },
  pad(top: white, facts),
)
#context {
  let tall = measure(block(width: 174mm, below)).height
  if tall > 150mm { panic("refused: a name is longer than the page holds") }
}
#place(bottom, float: true, clearance: 1mm, below)  // white is on top of it

#title()
#context {
  let rows = ()
  for (name, said) in data.about {
    let told = [#strong(name): #said]
    let is-long = measure(told).width > 85mm  // it has a row of its own
    if is-long or rows.len() == 0 or rows.last().len() == 2 { rows.push(()) }
    rows.last().push(told)
    if is-long { rows.last().push(none) }
  }
  set par(spacing: 0.55em)
  for (left, ..right) in rows {
    if right == (none,) { par(left) } else {
      grid(columns: (1fr, 1fr), column-gutter: 4mm, left, ..right)
    }
  }
}
#text(9pt, data.made)

#for section in data.first {
  heading(section.name)
  block(width: 100%, stroke: 1pt + black, inset: 5pt, {
    let (first, ..more) = section.lines
    par(text(11pt, strong(first.text)))
    for line in more { par(line.text) }
  })
}
#heading(data.parts_name)
#if data.parts.len() == 0 { block(inset: (left: 3mm), data.no_parts) } else {
  table(
    columns: (3fr, 2.5fr, 4fr, 3.2fr, 3fr),
    table.header(..data.parts_head),
    ..data.parts.flatten(),
  )
}
#heading(data.values_name)
#if data.values.len() == 0 { block(inset: (left: 3mm), data.no_values) }
#grid(
  columns: (1fr, 1fr, 1fr),
  column-gutter: 5mm,
  row-gutter: 3mm,
  ..data.values.map(value => block(breakable: false, {
    set text(8.5pt)
    set par(leading: 0.4em, spacing: 0.45em)
    par(strong(value.name))
    par(value.said)
    if value.drawn != "" { svg(value.drawn, width: 100%, alt: value.alt) }
    par(text(8pt, value.limit))
  })),
)
#if data.beside_values != "" { text(8pt, data.beside_values) }
#for section in data.sections {
  heading(section.name)
  lines(section)
}
#if data.pictures.len() > 0 {
  heading(data.pictures_name)
  grid(
    columns: (1fr, 1fr),
    column-gutter: 8mm,
    row-gutter: 4mm,
    ..data.pictures.map(one => block(breakable: false, {
      if one.drawn != "" { svg(one.drawn, height: 50mm, fit: "contain", alt: one.alt) }
      block(above: 1mm, text(8pt, one.said))
    })),
  )
}
"""
