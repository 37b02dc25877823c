// Package paper draws the documents a workshop hands out or pins to the bench,
// as PDF: quote, order confirmation, invoice, receipt, job card, sawing card,
// labels, run sheet, site sheet and handover sheet.
//
// Every paper is a pure function of one struct: the same struct gives the same
// bytes, because the dates in the file are the issue date of the record and the
// fonts are embedded. The package reads no clock, no database and no network;
// amounts arrive formatted, and it decides no price and no date.
//
// The wording a maker may change lies in templates/papers and is read through
// Words. A mistake in a changed file is named with file and line when it is
// loaded, and the built-in wording takes its place: no sheet fails because of it.
//
// Start reading at sheet.go (the page), table.go (rows that are never cut in
// two) and then at the file of the paper in question.
package paper
