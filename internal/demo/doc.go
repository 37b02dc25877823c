// Package demo writes the book of an invented workshop: two years of enquiries, quotes,
// orders, builds, packs, colonies, runs and money, up to today, so that the first look at
// kerfbook shows a book that is in use.
//
// Everything goes through the same rooms that the faces call, with a clock that moves
// through the two years, so that every rule of the book holds. The same seed and the same
// day give the same history. All people, places and numbers are invented; phone numbers
// are from the ranges that Australia keeps for fiction (ACMA, numbers for use in radio,
// film and television). Start reading at Fill.
package demo
