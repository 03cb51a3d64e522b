// Package folder takes METAR and TAF from text files that somebody or
// something drops into a folder.
//
//   - source.go: New and the Source
//   - scan.go: what is in the folder, read again only where it has changed
//   - demo.go: files whose times move with the clock, for showing the program
//
// Files end in .txt and hold reports as weather.Split reads them: one a line
// or wrapped, or whole bulletins with their headings; lines that begin with #
// are comments. The newest report of a station counts, whichever file it is
// in. A report has no month: it is the latest with its day and hour before
// the file was last written.
//
// What it never does: read outside the folder (no link out of it is
// followed), look into folders inside it, write, or let one file that cannot
// be read keep the others from being used.
package folder
