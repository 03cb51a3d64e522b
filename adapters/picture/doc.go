// Package picture draws what bot/drawing describes: PNG for chat services, SVG
// for the page, PDF and PNG of the card for the printer.
//
//   - picture.go: Artist: Draw, SVG and PDF, safe for concurrent use; lazy.go: Lazy,
//     which loads its fonts when it draws first
//   - profile.go, curve.go, day.go, season.go, kneeboard.go: one layout each, in
//     terms of the pen
//   - pen.go, table.go: text that fits, marks, tables; the look
//   - png.go, svg.go, pdf.go: the canvases that a pen writes to
//
// Nothing depends on colour alone: each line has its dashes and its mark, each
// state its word. The same drawing gives the same bytes. The figures are the
// drawing's; a layout rounds none.
//
// gonum/plot's canvas draws the PNG. Its SVG has style attributes, which the
// page's content security policy refuses, and a fixed ink, which no dark page
// can show; its PDF knows code page 1252, which has no minus sign, and carries
// the time of day. Hence the two canvases here.
package picture
